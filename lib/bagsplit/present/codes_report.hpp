#pragma once

#include <string>

#include "bagsplit/text/display.hpp"

/// The words that name problems in files, and what each means.
namespace bagsplit::present {

std::string codes_text(const text::TextOptions& options);
/// Columns: code, severity, found_in, meaning.
std::string codes_csv();
/// Schema "bagsplit.check-codes/1".
std::string codes_json();

}  // namespace bagsplit::present
