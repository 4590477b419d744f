bagsplit_module(safety
  SOURCES
    safety.cpp
  HEADERS
    safety.hpp)
