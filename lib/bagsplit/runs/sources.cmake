bagsplit_module(runs
  SOURCES player.cpp run.cpp units.cpp
  HEADERS course.hpp player.hpp problem.hpp run.hpp units.hpp)
