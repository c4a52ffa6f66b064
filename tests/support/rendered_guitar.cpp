#include "tests/support/rendered_guitar.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstdint>
#include <numbers>

#include "src/audio/sound_file.h"
#include "tests/support/command.h"

namespace landfall {

namespace {

constexpr double rate = 48000.0, before = 0.3, after = 1.0;
constexpr double ticksPerSecond = 1920.0;  // 960 to the quarter, 120 quarters a minute
constexpr int wheelRange = 24;             // semitones either way: an octave and an error beyond

// Standard MIDI Files 1.0: delta times are variable-length quantities, the tempo's default is 120.
struct MidiTrack {
    std::string bytes;
    std::uint32_t now = 0;

    void quantity(std::uint32_t value) {
        std::string groups(1, static_cast<char>(value & 0x7FU));
        while ((value >>= 7U) != 0U) groups.insert(groups.begin(), static_cast<char>((value & 0x7FU) | 0x80U));
        bytes += groups;
    }
    void event(double seconds, std::initializer_list<int> message) {
        const auto tick = std::max(now, static_cast<std::uint32_t>(std::lround(seconds * ticksPerSecond)));
        quantity(tick - now);
        now = tick;
        for (const int byte : message) bytes.push_back(static_cast<char>(byte));
    }
};

std::string bigEndian(std::uint32_t value, int count) {
    std::string bytes;
    for (int i = count - 1; i >= 0; --i) bytes.push_back(static_cast<char>((value >> (8 * i)) & 0xFFU));
    return bytes;
}

// The wheel's default modulator in the SoundFont 2.01 specification (section 8.4.10) has the amount 12700 cents and
// sees the sensitivity as semitones / 128; fluidsynth then drops fractions of a cent (measured with firstPartial below:
// 198.5 sounds as 198). So the wheel is put just above whole cents, and what sounds is known exactly.
constexpr double centsAWheelStep = 12700.0 * wheelRange / 128.0 / 8192.0;
int wheelFor(double cents) {
    return std::clamp(8192 + static_cast<int>(std::ceil((cents + 0.02) / centsAWheelStep)), 0, 16383);
}
double centsOf(int wheel) { return std::floor((wheel - 8192) * centsAWheelStep); }

void wheel(MidiTrack& track, double seconds, double cents) {
    const int value = wheelFor(cents);
    track.event(seconds, {0xE0, value & 0x7F, value >> 7});
}

double pathAt(double from, const ProgrammedTravel& travel, double u) {
    const double smooth = u * u * u * (10.0 - 15.0 * u + 6.0 * u * u);
    if (!travel.fretByFret || u >= 1.0) return from + (travel.cents - from) * smooth;
    return from + 100.0 * std::trunc((travel.cents - from) * smooth / 100.0);
}

void write(MidiTrack& track, const ProgrammedNote& note, double start, RenderedNote& rendered) {
    const double onset = start + before;
    track.event(start, {0xC0, note.program});
    wheel(track, start + 0.1, note.startCents);  // set before the note
    track.event(onset, {0x90, note.key, 100});
    double t = onset, cents = note.startCents;
    for (const ProgrammedTravel& travel : note.travels) {
        t += travel.hold;
        for (double u = 0.002 / travel.travel; u < 1.0; u += 0.002 / travel.travel)
            wheel(track, t + u * travel.travel, pathAt(cents, travel, u));
        t += travel.travel;
        wheel(track, t, travel.cents);
        cents = travel.cents;
        rendered.arrivals.push_back(t - start);
        rendered.cents.push_back(centsOf(wheelFor(cents)));
    }
    t += note.lastHold;
    track.event(t, {0x80, note.key, 0});
    rendered.onset = before;
    rendered.end = t - start;
}

}  // namespace

std::optional<std::vector<RenderedNote>> renderGuitar(const std::vector<ProgrammedNote>& notes, std::string& why,
                                                      Place place) {
    MidiTrack track;
    for (const auto& [control, value] : {std::pair{101, 0}, {100, 0}, {6, wheelRange}, {38, 0}})
        track.event(0.0, {0xB0, control, value});
    if (place == Place::room) track.event(0.0, {0xB0, 91, 127});  // all of it goes to the reverberation
    std::vector<RenderedNote> rendered(notes.size());
    std::vector<double> starts;
    double start = 0.1;
    for (std::size_t i = 0; i < notes.size(); ++i) {
        starts.push_back(start);
        write(track, notes[i], start, rendered[i]);
        start += rendered[i].end + after;
    }
    track.event(start, {0xFF, 0x2F, 0});
    const auto all =
        renderMidi("MThd" + bigEndian(6, 4) + bigEndian(0, 2) + bigEndian(1, 2) + bigEndian(960, 2) + "MTrk"
                       + bigEndian(static_cast<std::uint32_t>(track.bytes.size()), 4) + track.bytes,
                   why, place);
    if (!all) return std::nullopt;
    for (std::size_t i = 0; i < notes.size(); ++i) {
        const auto from = static_cast<std::size_t>(starts[i] * rate),
                   to = static_cast<std::size_t>((starts[i] + rendered[i].end + after) * rate);
        if (to > all->size() + static_cast<std::size_t>(after * rate)) {
            why = "fluidsynth wrote less sound than the MIDI file holds";
            return std::nullopt;
        }
        rendered[i].samples.assign(all->begin() + static_cast<std::ptrdiff_t>(from),
                                   all->begin() + static_cast<std::ptrdiff_t>(std::min(to, all->size())));
    }
    return rendered;
}

std::optional<std::vector<float>> renderMidi(const std::string& midi, std::string& why, Place place) {
    const std::string program = LANDFALL_FLUIDSYNTH, font = LANDFALL_SOUND_FONT;
    if (program.empty() || font.empty()) {
        why = "fluidsynth or fluid-soundfont-gm is not installed";
        return std::nullopt;
    }
    const TestFolder folder;
    writeText(folder / "notes.mid", midi);
    const char* reverberation =
        place == Place::room ? "-R 1 -o synth.reverb.room-size=0.5 -o synth.reverb.damp=0.3 -o synth.reverb.level=0.9"
                             : "-R 0";
    const std::string command =
        fmt::format("timeout -s KILL 100 '{}' -ni -q {} -C 0 -g 0.8 -r 48000 -T wav -O s24 -F '{}' '{}' '{}' 2>&1",
                    program, reverberation, (folder / "notes.wav").string(), font, (folder / "notes.mid").string());
    if (const CommandOutcome outcome = runCommand(command); outcome.status != 0) {
        why = fmt::format("fluidsynth failed ({}): {}", outcome.status, outcome.output);
        return std::nullopt;
    }
    auto file = SoundFile::open(folder / "notes.wav");
    if (!file) {
        why = file.error().message;
        return std::nullopt;
    }
    std::vector<float> all, block(48000);
    for (std::size_t got = block.size(); got == block.size();) {
        got = file->read(block);
        all.insert(all.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(got));
    }
    return all;
}

double firstPartial(const std::vector<float>& samples, double from, double to, double guess) {
    const auto start = static_cast<std::size_t>(from * rate), length = static_cast<std::size_t>((to - from) * rate);
    const auto strength = [&](double hertz) {
        std::complex<double> sum = 0.0, turn = 1.0;
        const std::complex<double> step = std::polar(1.0, -2.0 * std::numbers::pi * hertz / rate);
        for (std::size_t i = 0; i < length; ++i, turn *= step)
            sum += (0.5 - 0.5 * std::cos(2.0 * std::numbers::pi * static_cast<double>(i) / static_cast<double>(length)))
                   * static_cast<double>(samples[start + i]) * turn;
        return std::abs(sum);
    };
    double low = guess * std::exp2(-60.0 / 1200.0), high = guess * std::exp2(60.0 / 1200.0);
    for (int i = 0; i < 28; ++i) {
        const double a = low + (high - low) / 3.0, b = high - (high - low) / 3.0;
        if (strength(a) < strength(b)) low = a;
        else high = b;
    }
    return 0.5 * (low + high);
}

}  // namespace landfall
