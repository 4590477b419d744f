bagsplit_module(timing
  SOURCES combined_time.cpp device.cpp device_reader.cpp device_writer.cpp official_time.cpp reading_error.cpp
  HEADERS combined_time.hpp device.hpp device_writer.hpp official_time.hpp reading_error.hpp)
