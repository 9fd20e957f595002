/* A stand-in for the dongle's driver, for tests only: the public interface that pyrtlsdr binds (36 symbols), written for bandscan.
 *
 * It plays recordings chosen by the tuned frequency, scaled by the gain, and misbehaves on order. What it answers follows the
 * driver's documented behaviour as far as tests of bandscan rest on it (return codes, ranges, one owner at a time); a call that
 * would be undefined in the real one (use after close) ends the process.
 *
 * Environment:
 *   STANDIN_BAND       folder of recordings: CENTRE_GAIN.ci16 (played as it is), else CENTRE.ci16 (at STANDIN_REFERENCE); ci16_le at
 *                      the rate that is set; CENTRE in Hz, GAIN in tenths of a dB. Where there is none: noise.
 *   STANDIN_REFERENCE  gain that the levels of CENTRE.ci16 belong to, in tenths of a dB (default 197)
 *   STANDIN_NOISE      level of that noise in dBFS over the whole rate at that gain (default -40)
 *   STANDIN_STATE      file that counts tunes across processes, and is locked by the one that has the device open
 *   STANDIN_ORDERS     file of lines "WHAT FIRST LAST VALUE": misbehave while the number of the last tune lies in FIRST ... LAST
 *   STANDIN_CALLS      file that every call is appended to
 *   STANDIN_PACE       speed: 1 real time, 10 ten times that, 0 as fast as it can (default)
 *   STANDIN_PPM        error of the clock that a set correction takes off
 *   STANDIN_TUNER      driver's number of the tuner (default 5)
 *   STANDIN_SERIALS    serial numbers of the devices, comma between (default 00000001)
 *   STANDIN_LOADED     file that is made when the library is loaded
 *
 * Orders: count N devices; strings, open, tune, direct, bias CODE; gain TENTHS that the tuner has instead of the one set; unlock;
 * lose CODE: the stream ends with it and the device is gone; break CODE: only the stream ends; cancelled CODE: what an ended
 * stream returns; stall; crash; short BYTES missing from a transfer; drop SECONDS unheard; stale SAMPLES of the step before
 * first; clip DB louder. Built with STANDIN_OLD it lacks a symbol, as older drivers do.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define MAGIC 0x5da0feedu
#define DEFAULT_CENTRE 80000000u /* what the binding sets when it opens: not counted as a tune */
#define BLOCK_BYTES (16 * 32 * 512)
#define NOISE_SAMPLES (1 << 18)

typedef struct rtlsdr_dev {
  uint32_t magic, rate, centre, before;
  int ppm, direct, gain, manual, lock, cancel, reading;
} rtlsdr_dev_t;

typedef void (*callback_t)(unsigned char *, uint32_t, void *);

static const int GAINS[] = {0,   9,   14,  27,  37,  77,  87,  125, 144, 157, 166, 197, 207, 229, 254,
                            280, 297, 328, 338, 364, 372, 386, 402, 421, 434, 439, 445, 480, 496};
static float *noise_table;

static const char *setting(const char *name, const char *usual) {
  const char *found = getenv(name);
  return found && *found ? found : usual;
}

static void called(const char *format, ...) {
  char line[200];
  va_list values;
  const char *path = setting("STANDIN_CALLS", NULL);
  if (!path) return;
  va_start(values, format);
  int length = vsnprintf(line, sizeof line - 1, format, values);
  va_end(values);
  line[length++] = '\n';
  int file = open(path, O_WRONLY | O_CREAT | O_APPEND, 0600);
  if (file >= 0) {
    if (write(file, line, (size_t)length) != length) abort();
    close(file);
  }
}

__attribute__((constructor)) static void loaded(void) {
  const char *path = setting("STANDIN_LOADED", NULL);
  FILE *file = path ? fopen(path, "w") : NULL;
  if (file) fclose(file);
}

static int tunes(int more) {
  const char *path = setting("STANDIN_STATE", NULL);
  int count = 0;
  if (!path) return 0;
  FILE *file = fopen(path, "r");
  if (file) {
    if (fscanf(file, "%d", &count) != 1) count = 0;
    fclose(file);
  }
  if (more && (file = fopen(path, "w"))) {
    count += more;
    fprintf(file, "%d\n", count);
    fclose(file);
  }
  return count;
}

/* Whether to misbehave in this way now; `value` then is the order's. */
static int ordered(const char *what, double *value) {
  const char *path = setting("STANDIN_ORDERS", NULL);
  char name[32];
  int first, last, now = tunes(0), found = 0;
  double given;
  FILE *file = path ? fopen(path, "r") : NULL;
  if (!file) return 0;
  while (fscanf(file, "%31s %d %d %lf", name, &first, &last, &given) == 4)
    if (!strcmp(name, what) && first <= now && now <= last) {
      *value = given;
      found = 1;
    }
  fclose(file);
  return found;
}

static int serial_of(uint32_t index, char *serial) {
  char all[256];
  snprintf(all, sizeof all, "%s", setting("STANDIN_SERIALS", "00000001"));
  char *rest = NULL, *one = strtok_r(all, ",", &rest);
  for (; one && index; index--) one = strtok_r(NULL, ",", &rest);
  if (!one) return -1;
  snprintf(serial, 256, "%s", one);
  return 0;
}

static rtlsdr_dev_t *alive(rtlsdr_dev_t *dev, const char *who) {
  if (!dev || dev->magic != MAGIC) {
    called("USE-AFTER-CLOSE %s", who);
    abort();
  }
  return dev;
}

uint32_t rtlsdr_get_device_count(void) {
  double value;
  char serial[256];
  uint32_t count = 0;
  if (ordered("count", &value)) return (uint32_t)value;
  if (ordered("lose", &value)) return 0;
  while (!serial_of(count, serial)) count++;
  return count;
}

const char *rtlsdr_get_device_name(uint32_t index) { return index < rtlsdr_get_device_count() ? "Stand-in RTL2832U" : ""; }

int rtlsdr_get_device_usb_strings(uint32_t index, char *manufact, char *product, char *serial) {
  double value;
  if (ordered("strings", &value)) return (int)value;
  if (index >= rtlsdr_get_device_count()) return -2;
  if (manufact) strcpy(manufact, "bandscan");
  if (product) strcpy(product, "stand-in");
  return serial ? serial_of(index, serial) : 0;
}

int rtlsdr_get_index_by_serial(const char *wanted) {
  char serial[256];
  uint32_t index, count = rtlsdr_get_device_count();
  if (!count) return -2;
  for (index = 0; index < count; index++)
    if (!serial_of(index, serial) && !strcmp(serial, wanted)) return (int)index;
  return -3;
}

int rtlsdr_open(rtlsdr_dev_t **out, uint32_t index) {
  double value;
  const char *state = setting("STANDIN_STATE", NULL);
  called("open %u", index);
  if (ordered("open", &value)) return (int)value;
  if (index >= rtlsdr_get_device_count()) return -1;
  rtlsdr_dev_t *dev = calloc(1, sizeof *dev);
  dev->lock = -1;
  if (state) {
    char path[4096];
    snprintf(path, sizeof path, "%s.lock", state);
    dev->lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (flock(dev->lock, LOCK_EX | LOCK_NB)) { /* somebody has it open */
      close(dev->lock);
      free(dev);
      return -6;
    }
  }
  dev->magic = MAGIC;
  *out = dev;
  fprintf(stderr, "Found Rafael Micro R820T tuner\n");
  return 0;
}

int rtlsdr_close(rtlsdr_dev_t *dev) {
  alive(dev, "close");
  called("close");
  dev->magic = 0; /* the memory stays, so that a later use is noticed */
  if (dev->lock >= 0) close(dev->lock);
  return 0;
}

int rtlsdr_set_center_freq(rtlsdr_dev_t *dev, uint32_t freq) {
  double value;
  alive(dev, "set_center_freq");
  called("centre %u", freq);
  if (dev->reading) return -9;
  if (freq != DEFAULT_CENTRE) tunes(1);
  if (freq != DEFAULT_CENTRE && ordered("tune", &value)) return (int)value;
  if (ordered("unlock", &value)) fprintf(stderr, "[R82XX] PLL not locked at Tuner LO %u Hz for RF %f MHz!\n", freq, freq / 1e6);
  if (!dev->direct && freq < 24000000u && atoi(setting("STANDIN_TUNER", "5")) != 6) {
    fprintf(stderr, "[R82XX] No valid PLL values for %u Hz!\n", freq);
    return -1;
  }
  if (dev->centre != freq) dev->before = dev->centre;
  dev->centre = freq;
  return 0;
}

uint32_t rtlsdr_get_center_freq(rtlsdr_dev_t *dev) { return alive(dev, "get_center_freq")->centre; }

int rtlsdr_set_freq_correction(rtlsdr_dev_t *dev, int ppm) {
  alive(dev, "set_freq_correction");
  called("ppm %d", ppm);
  if (dev->ppm == ppm) return -2;
  dev->ppm = ppm;
  return 0;
}

int rtlsdr_get_freq_correction(rtlsdr_dev_t *dev) { return alive(dev, "get_freq_correction")->ppm; }

int rtlsdr_get_tuner_type(rtlsdr_dev_t *dev) {
  alive(dev, "get_tuner_type");
  return atoi(setting("STANDIN_TUNER", "5"));
}

int rtlsdr_set_tuner_gain(rtlsdr_dev_t *dev, int gain) {
  alive(dev, "set_tuner_gain");
  called("gain %d", gain);
  dev->gain = gain;
  return 0;
}

int rtlsdr_get_tuner_gain(rtlsdr_dev_t *dev) {
  double value;
  alive(dev, "get_tuner_gain");
  return ordered("gain", &value) ? (int)value : dev->gain;
}

int rtlsdr_get_tuner_gains(rtlsdr_dev_t *dev, int *gains) {
  alive(dev, "get_tuner_gains");
  if (gains) memcpy(gains, GAINS, sizeof GAINS);
  return (int)(sizeof GAINS / sizeof *GAINS);
}

int rtlsdr_set_tuner_gain_mode(rtlsdr_dev_t *dev, int manual) {
  alive(dev, "set_tuner_gain_mode");
  called("manual %d", manual);
  dev->manual = manual;
  return 0;
}

int rtlsdr_set_agc_mode(rtlsdr_dev_t *dev, int on) {
  alive(dev, "set_agc_mode");
  called("agc %d", on);
  return 0;
}

int rtlsdr_set_direct_sampling(rtlsdr_dev_t *dev, int on) {
  double value;
  alive(dev, "set_direct_sampling");
  called("direct %d", on);
  if (ordered("direct", &value)) return (int)value;
  dev->direct = on;
  dev->gain = 0;
  return 0;
}

int rtlsdr_set_bias_tee(rtlsdr_dev_t *dev, int on) {
  double value;
  alive(dev, "set_bias_tee");
  called("bias %d", on);
  return ordered("bias", &value) ? (int)value : 0;
}

int rtlsdr_set_sample_rate(rtlsdr_dev_t *dev, uint32_t rate) {
  alive(dev, "set_sample_rate");
  called("rate %u", rate);
  if (rate <= 225000 || rate > 3200000 || (rate > 300000 && rate <= 900000)) return -22;
  dev->rate = rate;
  return 0;
}

uint32_t rtlsdr_get_sample_rate(rtlsdr_dev_t *dev) { return alive(dev, "get_sample_rate")->rate; }

int rtlsdr_reset_buffer(rtlsdr_dev_t *dev) {
  alive(dev, "reset_buffer");
  called("reset");
  return 0;
}

/* ---- playing ------------------------------------------------------------------------------------------------------------- */

typedef struct {
  const int16_t *samples;
  size_t count, bytes;
  float scale;
} track_t;

static track_t track_of(rtlsdr_dev_t *dev, uint32_t centre, double more_db) {
  track_t track = {NULL, 0, 0, 1.0f};
  const char *folder = setting("STANDIN_BAND", NULL);
  double gain_db = (dev->gain - atoi(setting("STANDIN_REFERENCE", "197"))) / 10.0, value;
  char path[4096];
  struct stat about;
  int file = -1;
  if (ordered("gain", &value)) gain_db += (value - dev->gain) / 10.0;
  if (dev->direct) gain_db = 0.0; /* the tuner is asleep */
  if (folder && centre && !ordered("unlock", &value)) {
    snprintf(path, sizeof path, "%s/%u_%d.ci16", folder, centre, dev->gain);
    if ((file = open(path, O_RDONLY | O_CLOEXEC)) >= 0)
      gain_db = 0.0;
    else {
      snprintf(path, sizeof path, "%s/%u.ci16", folder, centre);
      file = open(path, O_RDONLY | O_CLOEXEC);
    }
  }
  if (file >= 0 && !fstat(file, &about) && about.st_size >= 4) {
    track.bytes = (size_t)about.st_size;
    track.samples = mmap(NULL, track.bytes, PROT_READ, MAP_PRIVATE, file, 0);
    track.count = track.bytes / 4;
    if (track.samples == MAP_FAILED) abort();
  }
  if (file >= 0) close(file);
  track.scale = (float)pow(10.0, (gain_db + more_db) / 20.0);
  return track;
}

static void make_noise(void) {
  uint64_t state = 0x9e3779b97f4a7c15ull;
  double level = pow(10.0, atof(setting("STANDIN_NOISE", "-40")) / 20.0);
  noise_table = malloc(2 * NOISE_SAMPLES * sizeof *noise_table);
  for (size_t i = 0; i < 2 * NOISE_SAMPLES; i++) {
    double sum = 0; /* of 12 even numbers: close to normal, variance 1; half of it in I, half in Q */
    for (int k = 0; k < 12; k++) {
      state ^= state << 13, state ^= state >> 7, state ^= state << 17;
      sum += (double)(state >> 11) / 9007199254740992.0;
    }
    noise_table[i] = (float)((sum - 6.0) * level / sqrt(2.0));
  }
}

static uint8_t code(float value) {
  long rounded = lrintf(127.5f * value + 127.5f);
  return (uint8_t)(rounded < 0 ? 0 : rounded > 255 ? 255 : rounded);
}

static void play(const track_t *track, uint64_t from, uint32_t samples, double turns_per_sample, uint8_t *out) {
  if (!track->samples && !noise_table) make_noise();
  double complex_re = cos(2 * M_PI * turns_per_sample), complex_im = sin(2 * M_PI * turns_per_sample);
  double angle = 2 * M_PI * fmod(turns_per_sample * (double)from, 1.0), re = cos(angle), im = sin(angle);
  for (uint32_t i = 0; i < samples; i++) {
    float a, b;
    if (track->samples) {
      size_t at = (size_t)((from + i) % track->count);
      a = (float)track->samples[2 * at] / 32768.0f, b = (float)track->samples[2 * at + 1] / 32768.0f;
    } else {
      size_t at = (size_t)((from + i) % NOISE_SAMPLES);
      a = noise_table[2 * at], b = noise_table[2 * at + 1];
    }
    a *= track->scale, b *= track->scale;
    if (turns_per_sample != 0.0) {
      float mixed = (float)(a * re - b * im);
      b = (float)(a * im + b * re), a = mixed;
      double turned = re * complex_re - im * complex_im;
      im = re * complex_im + im * complex_re, re = turned;
    }
    out[2 * i] = code(a), out[2 * i + 1] = code(b);
  }
}

static double now_s(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void wait_until(double when_s) {
  double left = when_s - now_s();
  if (left > 0) usleep((useconds_t)(1e6 * left));
}

int rtlsdr_read_async(rtlsdr_dev_t *dev, callback_t callback, void *context, uint32_t buf_num, uint32_t buf_len) {
  double value, louder_db = 0.0, stale = 0.0, drop_s = 0.0, pace = atof(setting("STANDIN_PACE", "0"));
  alive(dev, "read_async");
  (void)buf_num;
  if (!buf_len || buf_len % 512) buf_len = BLOCK_BYTES; /* as the driver does, without a word */
  called("read %u", buf_len);
  if (ordered("stall", &value))
    for (;;) sleep(1);
  if (ordered("crash", &value)) raise(SIGSEGV);
  ordered("clip", &louder_db);
  ordered("stale", &stale);
  ordered("drop", &drop_s);
  track_t track = track_of(dev, dev->centre, louder_db), old = track_of(dev, dev->before, louder_db);
  /* a set correction moves what is seen; the recordings hold the clock's own error already */
  double turns = dev->direct ? 0.0 : dev->ppm * 1e-6 * dev->centre / dev->rate;
  uint8_t *buffer = malloc(buf_len);
  uint32_t samples = buf_len / 2;
  uint64_t at = 0, sent = 0;
  double start_s = now_s();
  int result = 0, blocks = 0;
  dev->cancel = 0, dev->reading = 1;
  while (!dev->cancel) {
    uint32_t length = buf_len;
    if (drop_s > 0 && blocks == 8) at += (uint64_t)(drop_s * dev->rate); /* nobody heard these */
    play(&track, at, samples, turns, buffer);
    if (at < (uint64_t)stale) play(&old, at, (uint32_t)fmin((double)samples, stale - (double)at), turns, buffer);
    at += samples, sent += samples;
    if (pace > 0) wait_until(start_s + (double)at / (dev->rate * pace));
    if (blocks == 1 && ordered("short", &value)) length -= (uint32_t)value;
    callback(buffer, length, context);
    alive(dev, "streaming");
    blocks++;
    if (blocks == 2 && (ordered("break", &value) || ordered("lose", &value))) {
      result = (int)value;
      break;
    }
  }
  dev->reading = 0;
  free(buffer);
  if (track.samples) munmap((void *)track.samples, track.bytes);
  if (old.samples) munmap((void *)old.samples, old.bytes);
  called("stopped");
  /* a driver that was told to stop may still return the last code of its cancelled transfers */
  return result ? result : ordered("cancelled", &value) ? (int)value : 0;
}

int rtlsdr_wait_async(rtlsdr_dev_t *dev, callback_t callback, void *context) {
  return rtlsdr_read_async(dev, callback, context, 0, 0);
}

int rtlsdr_cancel_async(rtlsdr_dev_t *dev) {
  alive(dev, "cancel_async");
  called("cancel");
  if (!dev->reading || dev->cancel) return -2;
  dev->cancel = 1;
  return 0;
}

int rtlsdr_read_sync(rtlsdr_dev_t *dev, void *out, int bytes, int *got) {
  alive(dev, "read_sync");
  called("sync %d", bytes);
  if (bytes % 512) return -8;
  track_t track = track_of(dev, dev->centre, 0.0);
  play(&track, 0, (uint32_t)bytes / 2, 0.0, out);
  if (track.samples) munmap((void *)track.samples, track.bytes);
  *got = bytes;
  return 0;
}

/* ---- bound by the binding, not used by bandscan ---------------------------------------------------------------------------- */

int rtlsdr_set_testmode(rtlsdr_dev_t *dev, int on) { return (void)on, alive(dev, "set_testmode") ? 0 : -1; }
#ifndef STANDIN_OLD /* an older driver lacks this one */
int rtlsdr_set_dithering(rtlsdr_dev_t *dev, int on) { return (void)on, alive(dev, "set_dithering") ? 0 : -1; }
#endif
int rtlsdr_set_gpio_output(rtlsdr_dev_t *dev, uint8_t gpio) { return (void)gpio, alive(dev, "gpio") ? 0 : -1; }
int rtlsdr_set_gpio_input(rtlsdr_dev_t *dev, uint8_t gpio) { return (void)gpio, alive(dev, "gpio") ? 0 : -1; }
int rtlsdr_set_gpio_bit(rtlsdr_dev_t *dev, uint8_t gpio, int val) { return (void)gpio, (void)val, alive(dev, "gpio") ? 0 : -1; }
int rtlsdr_get_gpio_bit(rtlsdr_dev_t *dev, uint8_t gpio, int *val) { return (void)gpio, *val = 0, alive(dev, "gpio") ? 0 : -1; }
int rtlsdr_set_gpio_byte(rtlsdr_dev_t *dev, int val) { return (void)val, alive(dev, "gpio") ? 0 : -1; }
int rtlsdr_get_gpio_byte(rtlsdr_dev_t *dev, int *val) { return *val = 0, alive(dev, "gpio") ? 0 : -1; }
int rtlsdr_set_gpio_status(rtlsdr_dev_t *dev, int *status) { return *status = 0, alive(dev, "gpio") ? 0 : -1; }
int rtlsdr_set_xtal_freq(rtlsdr_dev_t *dev, uint32_t a, uint32_t b) { return (void)a, (void)b, alive(dev, "xtal") ? 0 : -1; }
int rtlsdr_get_xtal_freq(rtlsdr_dev_t *dev, uint32_t *a, uint32_t *b) { return *a = *b = 28800000u, alive(dev, "xtal") ? 0 : -1; }
