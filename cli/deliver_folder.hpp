#pragma once

#include <string>
#include <vector>

#include "bagsplit/present/page/report.hpp"
#include "session.hpp"

namespace bagsplit::cli {

/// Whether an answer is asked for as a folder: the name ends in a slash, or a folder has it.
bool names_a_folder(const std::string& output);

/// Writes the files into a new folder, or one that is empty. It is made beside its place and renamed once it is whole,
/// so that nobody ever sees half of it; a folder that holds anything is left as it is and said to be in the way.
ExitCode deliver_folder(const std::vector<present::ReportFile>& files, const std::string& folder,
                        const Session& session);

}  // namespace bagsplit::cli
