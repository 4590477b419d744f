bagsplit_module(motion
  SOURCES
    curve.cpp
    mechanics.cpp
  HEADERS
    curve.hpp
    mechanics.hpp)
