// Takes a fuzzer's bytes apart, from the front; when they run out there are zeros. Plain class.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <span>

namespace landfall {

class FuzzInput {
public:
    FuzzInput(const std::uint8_t* data, std::size_t size) : left(data, size) {}

    bool empty() const { return left.empty(); }
    template <typename Value>
    Value take() {
        Value value{};
        const std::size_t size = std::min(sizeof(Value), left.size());
        std::memcpy(&value, left.data(), size);
        left = left.subspan(size);
        return value;
    }
    // 0 to limit - 1.
    int below(int limit) { return take<std::uint8_t>() % limit; }

private:
    std::span<const std::uint8_t> left;
};

// A property that must hold for every input; libFuzzer keeps the input where it does not.
inline void mustHold(bool condition, const char* what) {
    if (condition) return;
    std::fprintf(stderr, "does not hold: %s\n", what);
    std::abort();
}

}  // namespace landfall
