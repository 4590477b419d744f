bagsplit_module(season
  SOURCES changes.cpp check_season.cpp design.cpp evidence.cpp fit.cpp growth.cpp messages.cpp points.cpp slips.cpp sprint.cpp
    state_of_child.cpp units.cpp verdict.cpp
  HEADERS fit.hpp growth.hpp options.hpp season.hpp sprint.hpp verdict.hpp)
