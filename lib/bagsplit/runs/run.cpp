#include "bagsplit/runs/run.hpp"

namespace bagsplit::runs {

const std::string& RunLog::name(NameId id) const {
  static const std::string none;
  return id == no_name ? none : names.at(id);
}

}  // namespace bagsplit::runs
