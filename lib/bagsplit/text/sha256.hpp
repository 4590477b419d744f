#pragma once

#include <array>
#include <cstdint>
#include <string_view>

/// A one-way code of a text, for ids that must not be read back.
namespace bagsplit::text {

using Digest = std::array<std::uint8_t, 32>;

/// SHA-256.  Source: NIST FIPS 180-4 (2015), section 6.2.
Digest sha256(std::string_view text);

/// The same keyed: without the key nobody can try all texts.  Source: RFC 2104 (1997).
Digest hmac_sha256(std::string_view key, std::string_view text);

}  // namespace bagsplit::text
