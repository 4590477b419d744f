bagsplit_module(stats
  SOURCES agreement.cpp anova.cpp check.cpp distributions.cpp effect_size.cpp icc.cpp multiplicity.cpp nonlinear_least_squares.cpp quantile.cpp
    spread.cpp t_interval.cpp univariate.cpp
  HEADERS agreement.hpp anova.hpp distributions.hpp effect_size.hpp fit_status.hpp icc.hpp interval.hpp multiplicity.hpp nonlinear_least_squares.hpp quantile.hpp
    spread.hpp t_interval.hpp univariate.hpp)
