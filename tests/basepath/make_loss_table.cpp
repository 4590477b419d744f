// Prints the table that LossTable::built_in() reads.
#include <cstdio>

#include "bagsplit/basepath/surrogate.hpp"

int main() {
  const auto table = bagsplit::basepath::LossTable::build({});
  std::fputs(table.to_json().c_str(), stdout);
  std::fprintf(stderr, "certified share %.4f, largest cost share %.2e\n", table.certified_share(),
               table.largest_cost_share());
  return 0;
}
