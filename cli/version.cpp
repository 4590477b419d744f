#include "version.hpp"

#include "bagsplit_commit.hpp"

namespace bagsplit::cli {

std::string version_number() {
  return "bagsplit " BAGSPLIT_VERSION;
}

std::string version_line() {
  const std::string commit = BAGSPLIT_COMMIT;
  return version_number() + (commit.empty() ? std::string() : " (commit " + commit + ")");
}

}  // namespace bagsplit::cli
