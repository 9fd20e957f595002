"""temp"""
