// The body of the audio library's callback, without the library.
#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstdlib>
#include <memory>
#include <numeric>
#include <thread>
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

TEST_CASE(
    "The levels get a copy of every channel, at most of eight; what nobody takes is dropped and disturbs nothing") {
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

TEST_CASE(
    "A device that lost input is told as a gap as long as its clock says, and JACK's false alarms are counted only") {
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

TEST_CASE(
    "What was captured is told in the count of what is read, lost samples among it, and what was played with the "
    "silence that filled it") {
    Rig rig;
    const std::vector<float> input(128, 0.5f);
    InputBlock block{.samples = input.data(), .channels = 1, .frames = 128, .capturedAt = 10.0};
    rig.callback->hear(block);
    block.broke = true;
    block.capturedAt += 128.0 / 48000.0 + 480.0 / 48000.0;
    rig.callback->hear(block);
    std::vector<float> out(1024);
    std::uint64_t read = 0;
    for (Chunk chunk = rig.read(out); chunk.samples > 0; chunk = rig.read(out)) read += chunk.samples + chunk.missing;
    CHECK(read == 128 + 480 + 128);
    CHECK(rig.shared->counts.captured.get().samples == read);

    rig.shared->output.write(std::vector<float>(200, 0.1f));
    std::vector<float> played(128);
    for (int i = 0; i < 3; ++i) rig.callback->play({.samples = played.data(), .channels = 1, .frames = 128});
    CHECK(rig.shared->counts.played.get().samples == 3 * 128);
    CHECK(rig.shared->counts.filled == 3 * 128 - 200);
}

TEST_CASE(
    "A position is told with its moment: a block's end, as old as its samples are, or as far ahead as they will "
    "sound") {
    Rig rig;
    const std::vector<float> input(480, 0.5f);
    std::vector<float> output(480);
    const auto now = [] {
        return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
    };
    const auto isWithin = [](Seconds at, double early, double late) {
        return at.value >= early - 1e-9 && at.value <= late + 1e-9;
    };

    double early = now();  // 10 ms of sound whose first sample is 25 ms old
    rig.callback->hear({.samples = input.data(), .channels = 1, .frames = 480, .age = Seconds(0.025)});
    CHECK(isWithin(rig.shared->counts.captured.get().at, early - 0.015, now() - 0.015));
    early = now();  // of unknown age: just over
    rig.callback->hear({.samples = input.data(), .channels = 1, .frames = 480});
    CHECK(isWithin(rig.shared->counts.captured.get().at, early, now()));
    early = now();
    rig.callback->play({.samples = output.data(), .channels = 1, .frames = 480, .ahead = Seconds(0.030)});
    CHECK(isWithin(rig.shared->counts.played.get().at, early + 0.040, now() + 0.040));
}

TEST_CASE("A sample captured is found among those played at that moment") {
    // 1000 samples were captured by 5 s, the 5000th sounds at 5.05 s: at 5 s the output stood at 5000 - 2400.
    const SoundClock clock{
        .rate = 48000.0, .captured = {1000, Seconds(5.0)}, .played = {5000, Seconds(5.05)}, .filled = 0, .read = 952};
    CHECK(clock.playedWhen(1000.0) == doctest::Approx(2600.0));
    CHECK(clock.playedWhen(1480.0) == doctest::Approx(3080.0));
    CHECK(clock.behind().value == doctest::Approx(0.001));
    CHECK(SoundClock{}.behind().value == 0.0);
}

TEST_CASE("A position is read whole while another thread sets it") {
    SharedPosition shared;
    std::atomic<bool> over{false};
    std::thread setter([&] {
        for (std::uint64_t i = 1; i <= 200000; ++i) shared.set({i, Seconds(2.0 * static_cast<double>(i))});
        over = true;
    });
    bool whole = true;
    while (!over) {
        const SoundPosition now = shared.get();
        whole = whole && now.at.value == 2.0 * static_cast<double>(now.samples);
    }
    setter.join();
    CHECK(whole);
    CHECK(shared.get().samples == 200000);
}
