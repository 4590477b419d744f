// What lines typed at the field are made of. Not installed.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/record/record_session.hpp"

namespace bagsplit::record::detail {

RecordReply told(std::string text);
RecordReply refused(std::string text);

/// Parted by blanks.
std::vector<std::string_view> words_of(std::string_view text);

/// Takes the note, if one is typed, off the end of a line.
void take_note(std::string_view& text, std::string& note);

/// The flag's own name for "fell", "FS" and the like; empty where the word is none.
std::string_view flag_of(std::string_view word);

/// All flags, for messages.
std::string flag_words();

}  // namespace bagsplit::record::detail
