// What a room goes on sounding of a pitch that was left, against the lines that it was made of.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <random>
#include <vector>

#include "dsp/pitch_tracker.h"
#include "dsp/room_tail.h"
#include "tests/support/allocation_guard.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

constexpr double rate = 16000.0, heldHertz = 440.0, stiffness = 1e-4;
constexpr double bentBy = 4.0;  // semitones
constexpr std::size_t hop = 80;
constexpr std::size_t leftAt = 8000;
constexpr double notePower = 0.5 * 0.04;  // of each partial

// What a settled fit says of a held note of eight partials.
PartialFit::Result heldFit(double hertz = heldHertz) {
    PartialFit::Result fit;
    fit.usable = true;
    fit.tone = {Hertz(hertz), 0.0, stiffness};
    fit.sd = Cents(0.5);
    fit.partials = 8;
    fit.power.fill(static_cast<float>(notePower));
    return fit;
}

void hold(RoomTail& room, int frames = 40) {
    for (int i = frames; i > 0; --i) room.hear(leftAt - static_cast<std::size_t>(i) * hop, heldFit());
    room.hear(leftAt, heldFit(heldHertz * std::exp2(bentBy / 12.0)));
}

// Partials of a stiff string at `hertz`, written out by the formula of Fletcher & Rossing (equation 2.67), from the
// sample `leftAt` on.
std::vector<float> lines(double hertz, double amplitude, double falls, int partials = 8) {
    std::vector<float> samples(24000);
    for (std::size_t n = leftAt; n < samples.size(); ++n) {
        const double t = static_cast<double>(n - leftAt) / rate;
        for (int k = 1; k <= partials; ++k)
            samples[n] +=
                static_cast<float>(amplitude * std::exp(-t / falls)
                                   * std::cos(2.0 * std::numbers::pi * hertz * k
                                                  * std::sqrt((1.0 + stiffness * k * k) / (1.0 + stiffness)) * t
                                              + 1.3 * k));
    }
    return samples;
}

std::vector<float> sum(std::vector<float> a, const std::vector<float>& b) {
    std::transform(a.begin(), a.end(), b.begin(), a.begin(), std::plus<>());
    return a;
}

// All that is found of a tail between two samples; the newest word about a sample counts, as in the tracker.
std::vector<float> found(RoomTail& room, const std::vector<float>& heard, double now, std::size_t from = leftAt,
                         std::size_t to = leftAt + 6400) {
    std::vector<float> tail(heard.size());
    const RoomTail::Place place{Hertz(now), Hertz(now), stiffness};
    for (std::size_t end = from + hop; end <= to; end += hop) {
        const std::size_t samples =
            room.find(std::span(heard).subspan(end - room.windowSamples(), room.windowSamples()), end,
                      now > 0.0 ? &place : nullptr, hop);
        std::copy_n(room.tail().begin(), samples, tail.begin() + static_cast<std::ptrdiff_t>(end - samples));
    }
    return tail;
}

double decibels(const std::vector<float>& a, const std::vector<float>& b, std::size_t from, std::size_t to) {
    double power = 0.0, off = 0.0;
    for (std::size_t n = from; n < to; ++n) {
        power += std::pow(static_cast<double>(a[n]), 2.0);
        off += std::pow(static_cast<double>(a[n]) - static_cast<double>(b[n]), 2.0);
    }
    return 10.0 * std::log10(power / off);
}

double power(const std::vector<float>& samples) {
    double all = 0.0;
    for (const float x : samples) all += static_cast<double>(x) * static_cast<double>(x);
    return all;
}

// A reverberation of signs at random moments that decay by 60 dB in `seconds`: velvet noise, Karjalainen & Jarvelainen,
// Reverberation modeling using velvet noise, AES 30th conference, 2007 (from memory). As loud as `mix` of the sound.
std::vector<float> reverberant(const std::vector<float>& dry, double sampleRate, double seconds, double mix) {
    std::mt19937 random(9);
    std::uniform_real_distribution<double> uniform(0.0, 1.0);
    constexpr double apart = 0.0005;  // s
    std::vector<std::pair<std::size_t, double>> taps;
    double energy = 0.0;
    for (double t = 0.012; t < seconds; t += apart) {
        const double gain = (uniform(random) < 0.5 ? -1.0 : 1.0) * std::pow(10.0, -3.0 * t / seconds);
        taps.emplace_back(static_cast<std::size_t>((t + apart * uniform(random)) * sampleRate), gain);
        energy += gain * gain;
    }
    std::vector<float> heard(dry);
    for (const auto& [delay, gain] : taps) {
        const auto weight = static_cast<float>(mix * gain / std::sqrt(energy));
        for (std::size_t n = delay; n < dry.size(); ++n) heard[n] += weight * dry[n - delay];
    }
    return heard;
}

}  // namespace

TEST_CASE("What a room goes on sounding of a pitch that was left is found, not the string") {
    const auto string = lines(heldHertz * std::exp2(bentBy / 12.0), 0.1, 2.0);
    for (const double amplitude : {0.03, 0.1}) {
        CAPTURE(amplitude);
        RoomTail room({rate});
        hold(room);
        const auto tail = lines(heldHertz, amplitude, 0.4);
        const auto out = found(room, sum(string, tail), heldHertz * std::exp2(bentBy / 12.0));
        // the fifth line stays, 17 Hz from the string's fourth; between the window's middle and its end all decay by
        // 0.7 dB
        CHECK(decibels(tail, out, leftAt + 2 * room.windowSamples(), leftAt + 6400) > 6.0);
    }
}

TEST_CASE("No tail is found where the string moved on in silence, or was never held") {
    const auto string = lines(heldHertz * std::exp2(bentBy / 12.0), 0.1, 2.0);
    RoomTail room({rate});
    hold(room);
    CHECK(power(found(room, string, heldHertz * std::exp2(bentBy / 12.0))) == 0.0);
    RoomTail fresh({rate});
    hold(fresh, 10);
    CHECK(power(found(fresh, sum(string, lines(heldHertz, 0.1, 0.4)), heldHertz * std::exp2(bentBy / 12.0))) == 0.0);
}

TEST_CASE("A string that comes back to where it was held is louder than its tail, and is left alone") {
    RoomTail room({rate});
    hold(room);
    const double above = heldHertz * std::exp2(bentBy / 12.0);
    const auto heard = sum(lines(above, 0.1, 2.0), lines(heldHertz, 0.03, 0.4));
    REQUIRE(power(found(room, heard, above)) > 0.0);
    CHECK(room.isAt(Hertz(heldHertz)));
    const auto back = lines(heldHertz, 0.1, 2.0);
    CHECK(power(found(room, back, heldHertz, leftAt + 6400, leftAt + 12800)) == 0.0);
    CHECK_FALSE(room.isAt(Hertz(heldHertz)));
}

// A pair on the two sides of each border that was chosen rather than derived. Nothing sounds but the tail's lines, of so
// much of the note's power, and what the border is about; the string is said to be a major third above.
TEST_CASE("Where a tail's lines are believed: soft and loud, under other sounds, noise beside them, falling, held") {
    const double above = heldHertz * std::exp2(bentBy / 12.0);
    const auto share = [](double of) { return std::sqrt(2.0 * notePower * of); };
    const auto isFound = [above](const std::vector<float>& heard, int frames = 40) {
        RoomTail room({rate});
        hold(room, frames);
        return power(found(room, heard, above)) > 0.0;
    };
    CHECK(isFound(lines(heldHertz, share(0.0036), 50.0)));
    CHECK_FALSE(isFound(lines(heldHertz, share(0.0024), 50.0)));
    CHECK(isFound(lines(heldHertz, share(0.8), 50.0)));
    // its first windows hold a part of it only: looked at once all of it is heard
    RoomTail loud({rate});
    hold(loud);
    CHECK(power(found(loud, lines(heldHertz, share(1.2), 50.0), above, leftAt + 1600)) == 0.0);
    CHECK(isFound(lines(heldHertz, share(0.1), 50.0), 24));
    CHECK_FALSE(isFound(lines(heldHertz, share(0.1), 50.0), 16));
    // seven of the eight lines lie free of the string's; a tone far below them is the rest of the sound
    for (const auto& [ofAll, believed] : {std::pair{0.0048, true}, std::pair{0.0032, false}}) {
        CAPTURE(ofAll);
        std::vector<float> sound(24000);
        for (std::size_t n = 0; n < sound.size(); ++n)
            sound[n] = static_cast<float>(std::sqrt(2.0 * 7.0 * notePower * 0.01 / ofAll)
                                          * std::sin(2.0 * std::numbers::pi * 150.0 * static_cast<double>(n) / rate));
        RoomTail room({rate});
        hold(room);
        const auto heard = sum(lines(heldHertz, share(0.01), 50.0), sound);
        CHECK((power(found(room, heard, above, leftAt + 1600)) > 0.0) == believed);
    }
    RoomTail room({rate});
    hold(room);
    found(room, lines(heldHertz, share(0.1), 50.0), above);
    CHECK(room.isAt(Hertz(heldHertz * std::exp2(50.0 / 1200.0))));
    CHECK_FALSE(room.isAt(Hertz(heldHertz * std::exp2(72.0 / 1200.0))));
}

TEST_CASE("A pitch that is back where the tail is, is the tail for a while, or the string as soon as it grows") {
    const double above = heldHertz * std::exp2(bentBy / 12.0);
    const auto goesOn = [above](double grown, std::size_t hops) {
        auto heard = lines(heldHertz, 0.05, 50.0);
        for (std::size_t n = leftAt + 6400; n < heard.size(); ++n) heard[n] *= static_cast<float>(std::sqrt(grown));
        heard = sum(heard, lines(above, 0.1, 50.0));  // of the rest of the sound
        RoomTail room({rate});
        hold(room);
        found(room, heard, above);
        const std::size_t to = leftAt + 6400 + hops * hop;
        const auto last = found(room, heard, heldHertz, leftAt + 6400, to);
        return power(std::vector<float>(last.end() - static_cast<std::ptrdiff_t>(last.size() - to + hop), last.end()))
               > 0.0;
    };
    CHECK(goesOn(1.0, 24));
    CHECK_FALSE(goesOn(1.0, 36));
    CHECK(goesOn(1.6, 18));
    CHECK_FALSE(goesOn(2.4, 18));
}

TEST_CASE("A string that has gone an octave up shares every second line with its tail, which keeps the others") {
    // shares of the note's power in the even lines and in the odd ones, by the formula above
    const auto octaveIsHeard = [](double even, double odd) {
        std::vector<float> heard(leftAt + 6400);
        for (std::size_t n = leftAt; n < heard.size(); ++n)
            for (int k = 1; k <= 8; ++k)
                heard[n] += static_cast<float>(std::sqrt(2.0 * notePower * (k % 2 == 0 ? even : odd))
                                               * std::cos(2.0 * std::numbers::pi * heldHertz * k
                                                              * std::sqrt((1.0 + stiffness * k * k) / (1.0 + stiffness))
                                                              * static_cast<double>(n - leftAt) / rate
                                                          + 1.3 * k));
        RoomTail room({rate});
        hold(room);
        found(room, heard, 0.0);
        return room.isOctaveBelow(Hertz(heldHertz));
    };
    CHECK(octaveIsHeard(0.32, 0.04));
    CHECK_FALSE(octaveIsHeard(0.18, 0.04));  // a room's own unevenness
    CHECK(octaveIsHeard(0.062, 0.005));
    CHECK_FALSE(octaveIsHeard(0.042, 0.005));  // nothing but a tail sounds
}

namespace {

// Of a string in a reverberation of 2.4 s: settled frames from `begin` to `end`, s after its stroke, and those within
// 30 cents of its pitch then.
struct InAHall {
    int all = 0, right = 0;

    void hear(double decay, double mix, double begin, double end, const std::function<double(double)>& pitch) {
        StringSound sound;
        sound.silence = 0.2;
        sound.seconds = 1.6;
        sound.noise = 1e-5;
        sound.decay = decay;
        const auto heard = reverberant(stringSound(sound, pitch), sound.sampleRate, 2.4, mix);
        PitchTracker tracker({sound.sampleRate});
        for (std::size_t at = 0; at < heard.size(); at += 256)
            for (const auto& frame :
                 tracker.process(std::span(heard).subspan(at, std::min<std::size_t>(256, heard.size() - at))).settled) {
                const double t = frame.centre.value - sound.silence;
                if (t < begin || t > end) continue;
                ++all;
                right += frame.pitch && std::abs(1200.0 * std::log2(frame.pitch->value / pitch(t))) < 30.0;
            }
    }
};

}  // namespace

TEST_CASE("Through a hall's reverberation an octave slide arrives an octave up") {
    InAHall hall;
    for (const double from : {110.0, 146.8, 196.0, 246.9})
        hall.hear(0.8, 0.5, 0.65, 1.4, [from](double t) {
            return from * std::exp2(std::floor(std::clamp((t - 0.5) / 0.1, 0.0, 1.0) * 12.0) / 12.0);
        });
    MESSAGE(hall.right << " of " << hall.all << " settled frames within 30 cents");
    REQUIRE(hall.all > 500);
    CHECK(hall.right > hall.all * 9 / 10);  // 599 of 600; with the octave below believed 300
}

TEST_CASE("Through a reverberation as long as a hall's the pitch stays with a string that was bent away") {
    InAHall hall;
    for (const double from : {220.0, 329.6, 523.25, 587.3})
        hall.hear(0.4, 0.7, 0.7, 1.5,
                  [from](double t) { return from * std::exp2(std::clamp((t - 0.5) / 0.2, 0.0, 1.0) * 3.0 / 12.0); });
    MESSAGE(hall.right << " of " << hall.all << " settled frames within 30 cents");
    REQUIRE(hall.all > 600);
    CHECK(hall.right > hall.all * 3 / 4);  // 77 %; with the tail left in 51
}

TEST_CASE("The room's tail allocates nothing, starts afresh and takes any sample") {
    const double above = heldHertz * std::exp2(bentBy / 12.0);
    const auto heard = sum(lines(above, 0.1, 2.0), lines(heldHertz, 0.1, 0.4));
    RoomTail room({rate});
    hold(room);
    const auto once = found(room, heard, above);
    REQUIRE(power(once) > 0.0);
    room.reset();
    CHECK(power(found(room, heard, above)) == 0.0);
    hold(room);
    CHECK(found(room, heard, above) == once);
    room.reset();
    hold(room);
    std::vector<float> strange(room.windowSamples(), std::numeric_limits<float>::quiet_NaN());
    const RoomTail::Place place{Hertz(above), Hertz(above), stiffness};
    const test::AllocationGuard guard;
    std::size_t samples = 0;
    for (const float value : {std::numeric_limits<float>::quiet_NaN(), 0.0f, 1.0f, 1e30f}) {
        std::fill(strange.begin(), strange.end(), value);
        for (std::size_t i = 0; i < 8; ++i) samples += room.find(strange, 2 * leftAt + i * hop, &place, hop);
    }
    CHECK(samples == 0);
    CHECK(guard.allocations() == 0);
}
