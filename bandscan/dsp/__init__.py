"""Pure functions on arrays: spectra, channels, discriminator, pilot, carriers. No tables, no files, no decisions."""
