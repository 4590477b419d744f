#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "session.hpp"

namespace bagsplit::cli {
namespace {

namespace fs = std::filesystem;

// Source: POSIX.1-2017, write() and rename(): ENOSPC on a full device, EPIPE without a reader, atomic replacement.

class Deliver : public testing::Test {
 protected:
  Deliver() {
    std::string pattern = (fs::temp_directory_path() / "bagsplit-deliver-XXXXXX").string();
    folder_ = mkdtemp(pattern.data());
    session_.talk = std::tmpfile();
    std::signal(SIGPIPE, SIG_IGN);
  }
  ~Deliver() override {
    std::fclose(session_.talk);
    fs::remove_all(folder_);
  }

  std::string said() {
    std::rewind(session_.talk);
    std::string text(4096, '\0');
    text.resize(std::fread(text.data(), 1, text.size(), session_.talk));
    return text;
  }
  std::size_t files() const {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder_), fs::directory_iterator()));
  }
  static std::string text_of(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
  }
  ExitCode to(const fs::path& path, std::string_view text = "answer\n") {
    OutputOptions output;
    output.output = path.string();
    return deliver(text, output, session_);
  }

  fs::path folder_;
  Session session_;
};

TEST_F(Deliver, WritesAFileWholeAndLeavesNothingElse) {
  EXPECT_EQ(to(folder_ / "new.txt"), ExitCode::done);
  EXPECT_EQ(text_of(folder_ / "new.txt"), "answer\n");
  EXPECT_EQ(files(), 1U);
  EXPECT_EQ(said(), "");
}

TEST_F(Deliver, KeepsTheModeOfTheFileItReplaces) {
  std::ofstream(folder_ / "old.txt") << "before";
  fs::permissions(folder_ / "old.txt", fs::perms(0640));
  EXPECT_EQ(to(folder_ / "old.txt"), ExitCode::done);
  EXPECT_EQ(text_of(folder_ / "old.txt"), "answer\n");
  EXPECT_EQ(fs::status(folder_ / "old.txt").permissions(), fs::perms(0640));
  EXPECT_EQ(to(folder_ / "new.txt"), ExitCode::done);
  const mode_t mask = umask(0);
  umask(mask);
  EXPECT_EQ(fs::status(folder_ / "new.txt").permissions(), fs::perms(0666U & ~mask));
}

TEST_F(Deliver, WritesThroughASymbolicLink) {
  std::ofstream(folder_ / "real.txt") << "before";
  fs::create_symlink("real.txt", folder_ / "link.txt");
  EXPECT_EQ(to(folder_ / "link.txt"), ExitCode::done);
  EXPECT_TRUE(fs::is_symlink(folder_ / "link.txt"));
  EXPECT_EQ(text_of(folder_ / "real.txt"), "answer\n");
}

TEST_F(Deliver, AFolderThatIsNotThereIsFileTrouble) {
  EXPECT_EQ(to(folder_ / "no" / "such.txt"), ExitCode::file_trouble);
  EXPECT_NE(said().find("could not be written"), std::string::npos);
  EXPECT_EQ(files(), 0U);
}

TEST_F(Deliver, AFolderInPlaceOfTheFileIsFileTrouble) {
  EXPECT_EQ(to(folder_), ExitCode::file_trouble);
  EXPECT_NE(said().find("could not be written"), std::string::npos);
}

TEST_F(Deliver, AFullDeviceIsFileTroubleWithWords) {
  EXPECT_EQ(to("/dev/full"), ExitCode::file_trouble);
  EXPECT_NE(said().find("No space left"), std::string::npos);
}

TEST_F(Deliver, AReaderThatHasGoneEndsItWithoutWords) {
  int ends[2];
  ASSERT_EQ(pipe(ends), 0);
  close(ends[0]);
  session_.answer = ends[1];
  EXPECT_EQ(deliver("answer\n", {}, session_), ExitCode::reader_gone);
  EXPECT_EQ(said(), "");
  close(ends[1]);
}

TEST_F(Deliver, AClosedStandardOutputIsFileTrouble) {
  session_.answer = -1;
  EXPECT_EQ(deliver("answer\n", {}, session_), ExitCode::file_trouble);
  EXPECT_NE(said().find("standard output"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::cli
