bagsplit_module(runs
  SOURCES json_text.cpp player.cpp run.cpp units.cpp
  HEADERS course.hpp json_text.hpp player.hpp problem.hpp run.hpp units.hpp)
