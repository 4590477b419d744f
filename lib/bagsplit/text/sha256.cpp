#include "bagsplit/text/sha256.hpp"

#include <bit>
#include <cstddef>
#include <string>

namespace bagsplit::text {

namespace {

constexpr std::size_t block_bytes = 64;

// First 32 bits of the fractional parts of the cube roots of the first 64 primes (FIPS 180-4, section 4.2.2).
constexpr std::array<std::uint32_t, 64> constants{
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

void take_block(std::array<std::uint32_t, 8>& state, const char* block) {
  std::array<std::uint32_t, 64> w{};
  for (std::size_t t = 0; t < 16; ++t) {
    for (std::size_t k = 0; k < 4; ++k) {
      w[t] = (w[t] << 8U) | static_cast<std::uint8_t>(block[4 * t + k]);
    }
  }
  for (std::size_t t = 16; t < 64; ++t) {
    const std::uint32_t s0 = std::rotr(w[t - 15], 7) ^ std::rotr(w[t - 15], 18) ^ (w[t - 15] >> 3U);
    const std::uint32_t s1 = std::rotr(w[t - 2], 17) ^ std::rotr(w[t - 2], 19) ^ (w[t - 2] >> 10U);
    w[t] = w[t - 16] + s0 + w[t - 7] + s1;
  }
  auto [a, b, c, d, e, f, g, h] = state;
  for (std::size_t t = 0; t < 64; ++t) {
    const std::uint32_t s1 = std::rotr(e, 6) ^ std::rotr(e, 11) ^ std::rotr(e, 25);
    const std::uint32_t first = h + s1 + ((e & f) ^ (~e & g)) + constants[t] + w[t];
    const std::uint32_t s0 = std::rotr(a, 2) ^ std::rotr(a, 13) ^ std::rotr(a, 22);
    const std::uint32_t second = s0 + ((a & b) ^ (a & c) ^ (b & c));
    h = g;
    g = f;
    f = e;
    e = d + first;
    d = c;
    c = b;
    b = a;
    a = first + second;
  }
  const std::array<std::uint32_t, 8> added{a, b, c, d, e, f, g, h};
  for (std::size_t i = 0; i < 8; ++i) {
    state[i] += added[i];
  }
}

std::string_view bytes_of(const Digest& digest, std::string& room) {
  room.assign(digest.begin(), digest.end());
  return room;
}

}  // namespace

Digest sha256(std::string_view text) {
  std::string padded(text);
  padded += '\x80';
  padded.append((2 * block_bytes - 8 - padded.size() % block_bytes) % block_bytes, '\0');
  const std::uint64_t bits = std::uint64_t{text.size()} * 8U;
  for (int shift = 56; shift >= 0; shift -= 8) {
    padded += static_cast<char>((bits >> static_cast<unsigned>(shift)) & 0xFFU);
  }
  std::array<std::uint32_t, 8> state{0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                                     0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
  for (std::size_t at = 0; at < padded.size(); at += block_bytes) {
    take_block(state, padded.data() + at);
  }
  Digest digest{};
  for (std::size_t i = 0; i < digest.size(); ++i) {
    digest[i] = static_cast<std::uint8_t>(state[i / 4] >> (24U - 8U * (i % 4)));
  }
  return digest;
}

Digest hmac_sha256(std::string_view key, std::string_view text) {
  std::string room;
  std::string block(key.size() > block_bytes ? bytes_of(sha256(key), room) : key);
  block.resize(block_bytes, '\0');
  std::string inner = block;
  std::string outer = block;
  for (std::size_t i = 0; i < block_bytes; ++i) {
    inner[i] = static_cast<char>(inner[i] ^ 0x36);
    outer[i] = static_cast<char>(outer[i] ^ 0x5c);
  }
  return sha256(outer.append(bytes_of(sha256(inner.append(text)), room)));
}

}  // namespace bagsplit::text
