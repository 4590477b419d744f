// Any bytes as a model file.
#include "bagsplit/inference/prior/model.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  text::Problems problems;
  const inference::ModelFile model = inference::read_model(fuzz::text_of(data, size), "model.json", problems);
  const auto& speed = model.prior.log_top_speed;
  fuzz::hold(text::has_errors(problems) || !speed || speed->sd > 0.0, "an SD that was taken is above 0");
  return 0;
}
