bagsplit_module(sprint
  SOURCES curve.cpp
  HEADERS curve.hpp model.hpp)
