bagsplit_module(norms
  SOURCES lms.cpp table.cpp norm.cpp words.cpp catalogue.cpp catalogue_load.cpp uncertain.cpp growth.cpp
  HEADERS lms.hpp table.hpp norm.hpp words.hpp catalogue.hpp uncertain.hpp growth.hpp)
