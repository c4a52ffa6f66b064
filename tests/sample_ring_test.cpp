#include "src/audio/sample_ring.h"

#include <memory>
#include <numeric>
#include <thread>
#include <vector>

#include <doctest/doctest.h>

using namespace landfall;

namespace {

std::vector<float> counting(float from, std::size_t count) {
    std::vector<float> samples(count);
    std::iota(samples.begin(), samples.end(), from);
    return samples;
}

}  // namespace

TEST_CASE("A ring gives back what was written, in order, across its end") {
    SampleRing<16> ring;
    float next = 0.0f;
    float expected = 0.0f;
    for (int round = 0; round < 50; ++round) {
        CHECK(ring.write(counting(next, 11)));
        next += 11.0f;
        std::vector<float> out(7);
        while (const std::size_t got = ring.read(out).samples)
            for (std::size_t i = 0; i < got; ++i) CHECK(out[i] == expected++);
    }
    CHECK(expected == next);
    CHECK(ring.droppedSamples() == 0);
}

TEST_CASE("A full ring drops the whole block, counts it, and the reader learns where and how many") {
    SampleRing<16> ring;
    CHECK(ring.write(counting(0, 10)));
    CHECK_FALSE(ring.write(counting(10, 10)));
    CHECK_FALSE(ring.write(counting(20, 7)));
    CHECK(ring.droppedSamples() == 17);
    std::vector<float> out(64);
    Chunk chunk = ring.read(out);
    CHECK(chunk.samples == 10);
    CHECK(chunk.missing == 0);
    CHECK(ring.write(counting(27, 4)));
    CHECK(ring.write(counting(31, 4)));
    chunk = ring.read(out);
    CHECK(chunk.missing == 17);
    CHECK(chunk.samples == 8);
    CHECK(out[0] == 27.0f);
    CHECK(ring.read(out).samples == 0);
}

TEST_CASE("A read stops before a gap, so that what is missing is told at its place") {
    SampleRing<32> ring;
    ring.write(counting(0, 4));
    ring.lose(100);
    ring.write(counting(104, 4));
    ring.lose(1);
    ring.lose(2);
    ring.write(counting(111, 4));
    std::vector<float> out(32);
    Chunk chunk = ring.read(out);
    CHECK(chunk.samples == 4);
    CHECK(chunk.missing == 0);
    chunk = ring.read(out);
    CHECK(chunk.samples == 4);
    CHECK(chunk.missing == 100);
    CHECK(out[0] == 104.0f);
    chunk = ring.read(std::span(out).first(2));
    CHECK(chunk.samples == 2);
    CHECK(chunk.missing == 3);
    chunk = ring.read(out);
    CHECK(chunk.samples == 2);
    CHECK(chunk.missing == 0);
    CHECK(out[0] == 113.0f);
}

TEST_CASE("A block larger than the ring is dropped and counted") {
    SampleRing<16> ring;
    CHECK_FALSE(ring.write(counting(0, 17)));
    CHECK(ring.droppedSamples() == 17);
    CHECK(ring.write(counting(17, 16)));
}

TEST_CASE("More gaps than can be marked become one gap with the sum") {
    SampleRing<1024> ring;
    std::uint64_t lost = 0;
    for (int i = 0; i < 100; ++i) {
        ring.lose(5);
        lost += 5;
        if (!ring.write(counting(0, 1))) ++lost;
    }
    std::vector<float> out(1024);
    std::uint64_t told = 0;
    std::uint64_t got = 0;
    while (ring.ready() > 0) {
        const Chunk chunk = ring.read(out);
        told += chunk.missing;
        got += chunk.samples;
    }
    CHECK(ring.write(counting(0, 1)));
    const Chunk last = ring.read(out);
    told += last.missing;
    got += last.samples;
    CHECK(told == lost);
    CHECK(got + told == 601);
}

TEST_CASE("Two threads lose nothing but what is counted as missing, and keep the order") {
    auto ring = std::make_unique<SampleRing<1024>>();
    constexpr std::uint64_t total = 400000;
    std::thread writer([&ring] {
        std::vector<float> block(96);
        for (std::uint64_t at = 0; at < total; at += block.size()) {
            // A float counts exactly up to 2^24.
            for (std::size_t i = 0; i < block.size(); ++i) block[i] = static_cast<float>(at + i);
            ring->write(block);
            if (at % 1920 == 0) std::this_thread::yield();
        }
        while (!ring->write(std::vector<float>{-1.0f})) std::this_thread::yield();
    });
    std::vector<float> out(61);
    std::uint64_t position = 0;
    bool inOrder = true;
    bool ended = false;
    while (!ended) {
        const Chunk chunk = ring->read(out);
        if (chunk.samples == 0) std::this_thread::yield();
        position += chunk.missing;
        for (std::size_t i = 0; i < chunk.samples; ++i) {
            ended = out[i] == -1.0f;
            if (!ended) inOrder = inOrder && out[i] == static_cast<float>(position++);
        }
    }
    writer.join();
    CHECK(inOrder);
    CHECK(position >= total);
}
