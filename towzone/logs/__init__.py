"""Logs of sentences: NMEA 0183 from receivers on board, AIS from other ships."""
