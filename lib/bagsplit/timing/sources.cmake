bagsplit_module(timing
  SOURCES combined_time.cpp device.cpp device_reader.cpp device_writer.cpp gate_log.cpp gate_run_log.cpp gate_runs.cpp gate_starts.cpp
          gate_table.cpp official_time.cpp reading_error.cpp
  HEADERS combined_time.hpp device.hpp device_writer.hpp gate_log.hpp gate_runs.hpp official_time.hpp reading_error.hpp)
