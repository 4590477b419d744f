bagsplit_module(norms
  HEADERS lms.hpp table.hpp norm.hpp catalogue.hpp uncertain.hpp growth.hpp)
