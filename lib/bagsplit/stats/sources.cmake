bagsplit_module(stats
  SOURCES agreement.cpp anova.cpp assignment.cpp bootstrap.cpp check.cpp distributions.cpp effect_size.cpp ex_gaussian.cpp
    group_contrasts.cpp group_system.cpp group_system_build.cpp hierarchical_means.cpp icc.cpp
    linear_gaussian.cpp minimise.cpp mixed_model.cpp mixed_system.cpp moments.cpp multiplicity.cpp nonlinear_least_squares.cpp
    permutation.cpp planning.cpp
    quantile.cpp random.cpp ranking.cpp robust.cpp shrinkage.cpp sparse_factor.cpp spread.cpp t_interval.cpp univariate.cpp
  HEADERS agreement.hpp anova.hpp assignment.hpp bootstrap.hpp distributions.hpp effect_size.hpp ex_gaussian.hpp fit_status.hpp group_contrasts.hpp
    hierarchical_means.hpp icc.hpp
    interval.hpp linear_gaussian.hpp minimise.hpp mixed_model.hpp moments.hpp multiplicity.hpp nonlinear_least_squares.hpp
    permutation.hpp planning.hpp
    quantile.hpp random.hpp ranking.hpp robust.hpp shrinkage.hpp spread.hpp t_interval.hpp univariate.hpp)
