#include "bagsplit/runs/run.hpp"

#include <algorithm>

namespace bagsplit::runs {

const SetAside* RunLog::aside(std::uint32_t reading, std::size_t mark) const {
  const auto found = std::lower_bound(set_aside.begin(), set_aside.end(), reading,
                                      [](const SetAside& one, std::uint32_t at) { return one.reading < at; });
  if (found == set_aside.end() || found->reading != reading) {
    return nullptr;
  }
  return mark == found->mark || (readings[reading].laps && mark > found->mark) ? &*found : nullptr;
}

const std::string& RunLog::name(NameId id) const {
  static const std::string none;
  return id == no_name ? none : names.at(id);
}

}  // namespace bagsplit::runs
