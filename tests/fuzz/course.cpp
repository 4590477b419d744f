// Any bytes as a file of courses.
#include "bagsplit/runs/course_file.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  runs::Problems problems;
  const auto courses = runs::read_courses(fuzz::text_of(data, size), "own.json", runs::builtin_courses(), problems);
  fuzz::hold(runs::has_errors(problems) || !courses.empty(), "a file without courses is an error");
  return 0;
}
