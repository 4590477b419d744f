bagsplit_module(basepath
  SOURCES arrow.cpp certificate.cpp diamond.cpp discretised.cpp interior_point.cpp limits.cpp newton_system.cpp path.cpp pieces.cpp spline_fit.cpp straight.cpp
    surrogate.cpp surrogate_file.cpp symmetric.cpp yardstick.cpp
  HEADERS diamond.hpp limits.hpp path.hpp straight.hpp surrogate.hpp yardstick.hpp)
