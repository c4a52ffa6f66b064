// A lock-free ring of samples for one writer and one reader, who may be two processes sharing its memory. A full ring
// drops, and keeps the place of the gap.
#pragma once

#include <algorithm>
#include <array>
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <span>

namespace landfall {

// `missing` samples were lost just before these; then `samples` of them follow without a break.
struct Chunk {
    std::size_t samples = 0;
    std::uint64_t missing = 0;
};

// Capacity is a power of two. All-zero memory is an empty ring. Neither side allocates, locks or makes a system call.
template <std::size_t capacity>
class SampleRing {
public:
    // Writer's. Takes all of the block or, where it does not fit, none of it; then false, and the reader is told how
    // many are missing.
    bool write(std::span<const float> block) noexcept {
        const std::uint64_t at = written.load(std::memory_order_relaxed);
        const std::uint64_t free = capacity - (at - read_.load(std::memory_order_acquire));
        if (block.size() > free || (pendingMissing > 0 && !placeGap(at))) {
            lose(block.size());
            dropped.store(dropped.load(std::memory_order_relaxed) + block.size(), std::memory_order_relaxed);
            return false;
        }
        const std::size_t first = static_cast<std::size_t>(at % capacity);
        const std::size_t head = std::min(block.size(), capacity - first);
        std::copy_n(block.begin(), head, samples.begin() + static_cast<std::ptrdiff_t>(first));
        std::copy(block.begin() + static_cast<std::ptrdiff_t>(head), block.end(), samples.begin());
        written.store(at + block.size(), std::memory_order_release);
        return true;
    }

    // Writer's. `count` samples that should stand before the next block never came.
    void lose(std::uint64_t count) noexcept { pendingMissing += count; }

    // Reader's. Fills up to the end of the block, to what there is, or to the next gap.
    Chunk read(std::span<float> block) noexcept {
        const std::uint64_t at = read_.load(std::memory_order_relaxed);
        std::uint64_t ready = std::min<std::uint64_t>(written.load(std::memory_order_acquire) - at, block.size());
        Chunk chunk;
        std::uint64_t gap = gapsRead.load(std::memory_order_relaxed);
        const std::uint64_t gapsThere = gapsWritten.load(std::memory_order_acquire);
        if (ready > 0 && gap != gapsThere && gaps[gap % gaps.size()].at == at) {
            chunk.missing = gaps[gap % gaps.size()].missing;
            gapsRead.store(++gap, std::memory_order_release);
        }
        if (gap != gapsThere) ready = std::min(ready, gaps[gap % gaps.size()].at - at);
        chunk.samples = static_cast<std::size_t>(ready);
        const std::size_t first = static_cast<std::size_t>(at % capacity);
        const std::size_t head = std::min(chunk.samples, capacity - first);
        std::copy_n(samples.begin() + static_cast<std::ptrdiff_t>(first), head, block.begin());
        std::copy_n(samples.begin(), chunk.samples - head, block.begin() + static_cast<std::ptrdiff_t>(head));
        read_.store(at + chunk.samples, std::memory_order_release);
        return chunk;
    }

    // Either side's; what the other side does meanwhile can only make it better for the one who asks.
    std::size_t ready() const noexcept {
        const std::uint64_t from = read_.load(std::memory_order_acquire);
        return static_cast<std::size_t>(written.load(std::memory_order_acquire) - from);
    }
    // Samples that found the ring full since the start.
    std::uint64_t droppedSamples() const noexcept { return dropped.load(std::memory_order_relaxed); }

private:
    static_assert((capacity & (capacity - 1)) == 0);
    static_assert(std::atomic<std::uint64_t>::is_always_lock_free, "a lock could not be shared by two processes");

    struct Gap {
        std::uint64_t at = 0;  // count of samples written before it
        std::uint64_t missing = 0;
    };

    bool placeGap(std::uint64_t at) noexcept {
        const std::uint64_t next = gapsWritten.load(std::memory_order_relaxed);
        if (next - gapsRead.load(std::memory_order_acquire) == gaps.size()) return false;
        gaps[next % gaps.size()] = {at, pendingMissing};
        pendingMissing = 0;
        gapsWritten.store(next + 1, std::memory_order_release);
        return true;
    }

    // The writer's line, the reader's line, and the samples do not share a cache line.
    alignas(64) std::atomic<std::uint64_t> written{0};
    std::atomic<std::uint64_t> gapsWritten{0};
    std::atomic<std::uint64_t> dropped{0};
    std::uint64_t pendingMissing = 0;
    alignas(64) std::atomic<std::uint64_t> read_{0};
    std::atomic<std::uint64_t> gapsRead{0};
    alignas(64) std::array<Gap, 64> gaps{};
    alignas(64) std::array<float, capacity> samples{};
};

}  // namespace landfall
