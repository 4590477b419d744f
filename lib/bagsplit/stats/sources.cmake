bagsplit_module(stats
  SOURCES agreement.cpp assignment.cpp check.cpp distributions.cpp 
    group_contrasts.cpp group_system.cpp group_system_build.cpp hierarchical_means.cpp icc.cpp
    linear_gaussian.cpp minimise.cpp mixed_model.cpp mixed_system.cpp multiplicity.cpp 
    planning.cpp
    quantile.cpp random.cpp ranking.cpp sparse_factor.cpp spread.cpp t_interval.cpp univariate.cpp
  HEADERS agreement.hpp assignment.hpp distributions.hpp fit_status.hpp group_contrasts.hpp
    hierarchical_means.hpp icc.hpp
    interval.hpp linear_gaussian.hpp minimise.hpp mixed_model.hpp multiplicity.hpp 
    planning.hpp
    quantile.hpp random.hpp ranking.hpp spread.hpp t_interval.hpp univariate.hpp)
