// Works the priors out from the published tables and writes data/models/sprint-prior.json and sprint-prior-fit.json
// anew.
#include <exception>
#include <fstream>
#include <iostream>
#include <string>

#include "sprint_prior/derivation.hpp"

int main() {
  namespace derivation = bagsplit::inference::derivation;
  const std::string data = BAGSPLIT_DATA_DIR;
  try {
    const derivation::Derived derived = derivation::derive(data + "/norms");
    if (!derived.converged) {
      std::cerr << "the fit does not converge\n";
      return 1;
    }
    std::ofstream coefficients(data + "/models/sprint-prior.json");
    coefficients << bagsplit::inference::write_prior(derived.coefficients);
    std::ofstream fit(data + "/models/sprint-prior-fit.json");
    fit << bagsplit::inference::write_prior_fit(derived.fit);
    return coefficients.flush() && fit.flush() ? 0 : 1;
  } catch (const std::exception& e) {
    std::cerr << e.what() << '\n';
    return 1;
  }
}
