// Where sound in and sound out stand, in samples and on the system's steady clock, so that what is to sound in time
// with what is heard can be placed.
#pragma once

#include <array>
#include <atomic>
#include <cstdint>

#include "dsp/units.h"

namespace landfall {

// So many samples had passed at that moment of the system's steady clock.
struct SoundPosition {
    std::uint64_t samples = 0;
    Seconds at;
};

struct SoundClock {
    double rate = 0.0;  // Hz; 0: nothing has run yet
    // by the device, in the count of what is read: samples that are missing there stand in it
    SoundPosition captured;
    SoundPosition played;      // by the output, at the loudspeaker; those filled with silence stand in it
    std::uint64_t filled = 0;  // of them, with silence, since none were there in time
    std::uint64_t read = 0;    // of those captured

    // Captured, not yet read.
    Seconds behind() const {
        return Seconds(rate > 0.0 && captured.samples > read ? static_cast<double>(captured.samples - read) / rate
                                                             : 0.0);
    }
    // The count of samples played at the moment when this one was captured. Both streams run at one rate here: where
    // they are two devices' the answer is as good as their clocks agree since the positions were taken, a few samples a
    // minute.
    double playedWhen(double capturedSample) const {
        return static_cast<double>(played.samples) + capturedSample - static_cast<double>(captured.samples)
               + (captured.at - played.at).value * rate;
    }
};

// A position that one thread sets and others, of another process too, read whole. It is written beside the one that is
// read: a setter that is kept waiting, or killed, half way leaves the one before as it was. Memory of zeros is a
// position not yet set.
class SharedPosition {
public:
    void set(const SoundPosition& now) noexcept {
        const std::uint32_t next = turn.load(std::memory_order_relaxed) + 1;
        Slot& slot = slots[next % slots.size()];
        slot.samples.store(now.samples, std::memory_order_release);  // not before the turn before was told
        slot.at.store(now.at.value, std::memory_order_release);
        turn.store(next, std::memory_order_release);
    }
    SoundPosition get() const noexcept {
        for (;;) {
            const std::uint32_t before = turn.load(std::memory_order_acquire);
            const Slot& slot = slots[before % slots.size()];
            const SoundPosition now{slot.samples.load(std::memory_order_acquire),
                                    Seconds(slot.at.load(std::memory_order_acquire))};
            if (turn.load(std::memory_order_relaxed) == before) return now;  // the next one goes into the other slot
        }
    }

private:
    struct Slot {
        std::atomic<std::uint64_t> samples{0};
        std::atomic<double> at{0.0};
    };
    static_assert(std::atomic<double>::is_always_lock_free);
    std::atomic<std::uint32_t> turn{0};
    std::array<Slot, 2> slots{};
};

}  // namespace landfall
