#pragma once

#include <initializer_list>
#include <string>
#include <string_view>

#include "season.hpp"

/// What goes with the logs: the page for people and the truth for tests.
namespace demo_season {

std::string readme_text(const Season& season);

/// Device profile of the club: who gives the call, who hears it.
std::string watches_json();

/// Truth as JSON: what is common, each timer, each night, each player, each run. Numbers to 5 decimals.
std::string truth_json(const Season& season);

/// A number with at most `decimals` digits after the point, trailing zeros dropped; never "-0".
std::string number_text(double value, int decimals = 5);

/// The parts one after another.
std::string joined(std::initializer_list<std::string_view> parts);

}  // namespace demo_season
