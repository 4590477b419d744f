// What a child's page and a message to the parent say, in a child's and a parent's words. Not installed.
#pragma once

#include <string>
#include <vector>

#include "bagsplit/jobs/profile/own_times.hpp"
#include "bagsplit/jobs/profile/profile.hpp"

namespace bagsplit::present {

struct ChildAnswer {
  std::string well, work;        ///< one sentence each, "you"
  std::string drill, how, dose;  ///< of what to work on; empty where nothing stands out
  std::string care;              ///< the line of safety that the drill needs
  std::string note;              ///< two sentences for a parent
  std::vector<std::string> not_known;
};

/// @param shown  what the child is called.
ChildAnswer child_answer(const jobs::PlayerProfile& player, const std::string& shown);

/// "about a quarter of a second": of 0.05 s or more in words, as people say it.
std::string seconds_in_words(double seconds);

/// "Home to first", "Once round", "15 yd from lying".
std::string own_times_words(const jobs::OwnTimes& times);

/// "23 June".
std::string day_words(runs::Date date);

}  // namespace bagsplit::present
