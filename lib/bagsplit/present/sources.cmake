bagsplit_module(present
  SOURCES
    problem_text.cpp
    text_width.cpp
  HEADERS
    problem_text.hpp
    text_width.hpp)
