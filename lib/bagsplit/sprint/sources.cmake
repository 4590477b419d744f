bagsplit_module(sprint
  SOURCES curve.cpp model.cpp
  HEADERS curve.hpp model.hpp prior.hpp)
