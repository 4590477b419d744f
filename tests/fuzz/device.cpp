// Any bytes as a device profile; what reads without errors survives being written and read again.
#include "bagsplit/timing/device_writer.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  text::Problems problems;
  const timing::DeviceProfile profile = timing::read_device(fuzz::text_of(data, size), "own.json", problems);
  if (!text::has_errors(problems)) {
    const std::string written = timing::write_device(profile);
    text::Problems again;
    fuzz::hold(
        timing::write_device(timing::read_device(written, "own.json", again)) == written && !text::has_errors(again),
        "a profile survives being written");
  }
  return 0;
}
