// Any bytes as a file of courses.
#include "bagsplit/runs/courses/course_file.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  text::Problems problems;
  const auto courses = runs::read_courses(fuzz::text_of(data, size), "own.json", runs::builtin_courses(), problems);
  for (const runs::Course& course : courses) {
    fuzz::hold(!course.name.empty() && runs::find_course(runs::builtin_courses(), course.name) == nullptr,
               "a course has a name of its own");
    for (const runs::Segment& segment : course.segments) {
      fuzz::hold(runs::segment_end_m(course, segment, 18.288) > 0.0, "a segment ends somewhere");
    }
  }
  return 0;
}
