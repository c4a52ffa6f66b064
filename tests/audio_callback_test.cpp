// The body of the audio library's callback, without the library.
#include <algorithm>
#include <cstdlib>
#include <memory>
#include <numeric>
#include <vector>

#include <doctest/doctest.h>

#include "src/audio/audio_shared.h"
#include "tests/support/allocation_guard.h"

using namespace landfall;
using landfall::test::AllocationGuard;

namespace {

struct Rig {
    std::unique_ptr<AudioShared> shared = std::make_unique<AudioShared>();
    std::unique_ptr<AudioCallback> callback = std::make_unique<AudioCallback>(*shared);
    Rig() { shared->answer.rate = 48000.0; }
    Chunk read(std::vector<float>& out) { return shared->input.read(out); }
};

}  // namespace

TEST_CASE("The callback passes on the chosen channel of an interleaved block, and the output to every channel") {
    Rig rig;
    rig.shared->wish.channel = 3;
    std::vector<float> input(4 * 128);
    std::iota(input.begin(), input.end(), 0.0f);
    const std::vector<float> tone{0.1f, 0.2f, 0.3f};
    rig.shared->output.write(tone);
    std::vector<float> output(2 * 128, 9.0f);
    rig.callback->hear({.samples = input.data(), .channels = 4, .frames = 128});
    rig.callback->play({.samples = output.data(), .channels = 2, .frames = 128});
    std::vector<float> heard(256);
    CHECK(rig.read(heard).samples == 128);
    CHECK(heard[0] == 2.0f);
    CHECK(heard[127] == 4.0f * 127.0f + 2.0f);
    CHECK(output[0] == 0.1f);
    CHECK(output[1] == 0.1f);
    CHECK(output[5] == 0.3f);
    CHECK(output[6] == 0.0f);  // the ring ran dry: silence, not what was in the buffer
    CHECK(output.back() == 0.0f);
    CHECK(rig.shared->counts.callbacks == 1);
    CHECK(rig.shared->counts.frames == 128);
}

TEST_CASE("The levels get a copy of every channel, at most of eight; what nobody takes is dropped and disturbs nothing") {
    Rig rig;
    rig.shared->wish.channel = 2;
    std::vector<float> input(10 * 64);
    std::iota(input.begin(), input.end(), 0.0f);
    const InputBlock block{.samples = input.data(), .channels = 10, .frames = 64};
    rig.callback->hear(block);
    std::vector<float> heard(256);
    for (std::size_t k = 0; k < AudioShared::meteredChannels; ++k) {
        CHECK(rig.shared->channels[k].read(heard).samples == 64);
        CHECK(heard[0] == static_cast<float>(k));
        CHECK(heard[63] == static_cast<float>(63 * 10 + k));
    }
    for (int i = 0; i < 1000; ++i) rig.callback->hear(block);
    CHECK(rig.shared->channels[0].droppedSamples() > 0);
    CHECK(rig.shared->input.droppedSamples() == 0);
    CHECK(rig.shared->input.ready() == 1001 * 64);
}

TEST_CASE("The callback neither allocates nor locks, with room, with a full ring and with a broken input") {
    if (!AllocationGuard::watching()) MESSAGE("SKIPPED in part: a sanitizer holds the allocator");
    {
        AllocationGuard proof;
        void* (*volatile allocate)(std::size_t) = std::malloc;  // volatile: else the compiler leaves out the pair
        std::free(allocate(1));
        if (AllocationGuard::watching()) REQUIRE(proof.allocations() == 1);  // the guard can fail
    }
    Rig rig;
    std::vector<float> input(2 * 512);
    std::vector<float> output(2 * 512);
    const AllocationGuard guard;
    for (int i = 0; i < 1200; ++i) {
        rig.callback->hear({.samples = input.data(), .channels = 2, .frames = 512, .broke = i % 7 == 0});
        rig.callback->play({.samples = output.data(), .channels = 2, .frames = 512, .broke = i % 7 == 0});
    }
    CHECK(guard.allocations() == 0);
    CHECK(guard.locks() == 0);
    CHECK(rig.shared->input.droppedSamples() > 0);
}

TEST_CASE("A device that lost input is told as a gap as long as its clock says, and JACK's false alarms are counted only") {
    Rig rig;
    const std::vector<float> input(128, 0.5f);
    InputBlock block{.samples = input.data(), .channels = 1, .frames = 128, .capturedAt = 10.0};
    rig.callback->hear(block);
    block.broke = true;
    block.capturedAt += 128.0 / 48000.0 + 480.0 / 48000.0;
    rig.callback->hear(block);
    block.capturedAt += 128.0 / 48000.0 + 53.0 / 48000.0;
    rig.callback->hear(block);
    block.falseAlarms = true;
    block.capturedAt += 128.0 / 48000.0 + 53.0 / 48000.0;
    rig.callback->hear(block);
    block.falseAlarms = false;
    block.capturedAt = 0.0;  // a host without a clock
    rig.callback->hear(block);
    std::vector<float> out(1024);
    Chunk chunk = rig.read(out);
    CHECK(chunk.missing == 0);
    CHECK(chunk.samples == 128);
    chunk = rig.read(out);
    CHECK(chunk.missing == 480);
    CHECK(chunk.samples == 128);
    chunk = rig.read(out);
    CHECK(chunk.missing == 1);  // too little for the clock to tell, but something
    CHECK(chunk.samples == 2 * 128);
    chunk = rig.read(out);
    CHECK(chunk.missing == 1);
    CHECK(chunk.samples == 128);
    CHECK(rig.shared->counts.inputBreaks == 4);
}

TEST_CASE("A block larger than the callback's own store is passed on whole") {
    Rig rig;
    std::vector<float> input(10000);
    std::iota(input.begin(), input.end(), 0.0f);
    rig.callback->hear({.samples = input.data(), .channels = 1, .frames = 10000});
    std::vector<float> out(10000);
    CHECK(rig.read(out).samples == 10000);
    CHECK(out == input);
}

TEST_CASE("A block without samples disturbs nothing") {
    Rig rig;
    rig.callback->hear({.samples = nullptr, .channels = 1, .frames = 128});
    CHECK(rig.shared->input.ready() == 0);
    CHECK(rig.shared->counts.callbacks == 1);
}
