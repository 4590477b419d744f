bagsplit_module(stats
  SOURCES check.cpp distributions.cpp effect_size.cpp quantile.cpp spread.cpp t_interval.cpp univariate.cpp
  HEADERS distributions.hpp effect_size.hpp interval.hpp quantile.hpp spread.hpp t_interval.hpp univariate.hpp)
