"""What satellite receivers send and write, RTCM 3 streams and NMEA 0183 logs, read whatever is in them."""
