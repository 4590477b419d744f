// Derives the sprint priors from the published tables and prints the coefficients (standard output: the content of
// data/models/sprint-prior.json) and the residual tables (standard error).
#include <iostream>

#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/sprint/prior_derivation.hpp"

int main() {
  const auto derived = bagsplit::sprint::derive_priors(bagsplit::norms::Catalogue::builtin());
  std::cout << bagsplit::sprint::write_prior(derived.coefficients);
  std::cerr << bagsplit::sprint::residual_tables(derived);
  return derived.converged && std::cout.flush() ? 0 : 1;
}
