#include "deliver_folder.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <filesystem>

#include "bagsplit/text/text_width.hpp"

namespace bagsplit::cli {

namespace {

namespace fs = std::filesystem;

ExitCode trouble(int number, const std::string& folder, const Session& session) {
  const bool in_the_way = number == ENOTEMPTY || number == EEXIST || number == ENOTDIR;
  session.say("bagsplit: '" + text::printable(folder) + "'" +
              (in_the_way ? " is there already and holds something; nothing was written. Give a new folder, or empty "
                            "that one\n"
                          : std::string(" could not be written: ") + std::strerror(number) + "\n"));
  return ExitCode::file_trouble;
}

// On the disk before the folder gets its name.
int sync_folder(const std::string& folder) {
  const int file = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (file < 0) {
    return errno;
  }
  const int number = fsync(file) == 0 ? 0 : errno;
  close(file);
  return number;
}

int give_usual_mode(const std::string& folder) {
  const mode_t mask = umask(0);
  umask(mask);
  return chmod(folder.c_str(), 0777U & ~mask) == 0 ? 0 : errno;
}

}  // namespace

bool names_a_folder(const std::string& output) {
  std::error_code none;
  return output.ends_with('/') || fs::is_directory(output, none);
}

ExitCode deliver_folder(const std::vector<present::ReportFile>& files, const std::string& folder,
                        const Session& session) {
  std::error_code error;
  fs::path place = fs::exists(folder, error) ? fs::canonical(folder, error) : fs::absolute(folder, error);
  if (error) {
    return trouble(error.value(), folder, session);
  }
  place = place.has_filename() ? place : place.parent_path();
  if (fs::exists(place, error) && !fs::is_empty(place, error)) {
    return trouble(error ? error.value() : ENOTEMPTY, folder, session);
  }
  std::string beside = place.string() + ".XXXXXX";
  if (mkdtemp(beside.data()) == nullptr) {
    return trouble(errno, folder, session);
  }
  ExitCode code = ExitCode::done;
  for (const present::ReportFile& file : files) {
    OutputOptions output;
    output.output = beside + "/" + file.name;
    code = code == ExitCode::done ? deliver(file.text, output, session) : code;
  }
  if (code == ExitCode::done) {
    int number = give_usual_mode(beside);
    number = number == 0 ? sync_folder(beside) : number;
    number = number == 0 && std::rename(beside.c_str(), place.c_str()) != 0 ? errno : number;
    code = number == 0 ? code : trouble(number, folder, session);
  }
  if (code != ExitCode::done) {
    fs::remove_all(beside, error);
  }
  return code;
}

}  // namespace bagsplit::cli
