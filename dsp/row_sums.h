// The tracker's hottest loops: sums over the rows of a least-squares fit, the same bits with narrow and wide registers.
// No state, any thread.
#pragma once

#include <array>
#include <cstddef>

namespace landfall {

constexpr std::size_t lanes = 4;  // rows are padded to whole SIMD registers
constexpr std::size_t longestRow = 36;

// gram += rows' rows, upper triangle; `columns` is a multiple of `lanes`.
void addGram(const float* rows, std::size_t count, std::size_t columns, float* gram) noexcept;

// Sums over a stretch of rows of the derivatives by pitch, slope and B (see PartialFit) with every column and with each
// other.
struct Derivatives {
    std::array<float, longestRow> weightU{}, weightV{};
    float glide = 0.0f;
};
struct DerivativeSums {
    std::array<std::array<float, longestRow>, 3> part{};
    std::array<float, 6> square{};
};
// `times`: one a row.
void addDerivatives(const float* rows, const float* times, std::size_t count, std::size_t columns,
                    const Derivatives& by, DerivativeSums& sums) noexcept;

}  // namespace landfall
