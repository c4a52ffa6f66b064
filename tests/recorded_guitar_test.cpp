// Real guitars that this project did not record, from two Debian packages; testdata/MANIFEST.md says where each comes
// from and under which licence. An independent pair of ears says what sounds: aubio's yinfast and yinfft, where the two
// agree.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include <aubio/aubio.h>
#include <doctest/doctest.h>

#include "dsp/pitch_tracker.h"
#include "src/audio/sound_file.h"

using namespace landfall;

namespace {

struct Recording {
    std::string name;
    double rate = 0.0;
    std::vector<float> samples;
    double fretted = 0.0;  // Hz, as the file names it; 0: it does not
};

// Half a second of a quiet cable before it: a player's hand needs longer, and a cut-out note begins at full strength.
Recording withCable(Recording recording) {
    std::vector<float> quiet(static_cast<std::size_t>(0.5 * recording.rate));
    std::uint32_t state = 1;
    for (float& x : quiet) {
        state = state * 1664525U + 1013904223U;  // Numerical Recipes' generator
        x = 1e-4F * (static_cast<float>(state >> 8U) / 8388608.0F - 1.0F);
    }
    recording.samples.insert(recording.samples.begin(), quiet.begin(), quiet.end());
    return recording;
}

// The notes of one instrument of Debian's freepats: Gravis patch files (GF1PATCH110; layout from the Ultrasound
// development kit, from memory): 129 bytes of header, 63 of instrument, 47 of layer with the number of samples at 6;
// then each sample: 96 bytes with length at 8, rate at 20, the note's pitch in mHz at 30 and kind at 55, and its sound,
// 16 bits signed.
std::vector<Recording> patch(const std::string& instrument) {
    std::ifstream file(std::filesystem::path(LANDFALL_FREEPATS) / (instrument + ".pat"), std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(file), {}};
    std::vector<Recording> notes;
    if (bytes.size() < 239 || bytes.compare(0, 11, "GF1PATCH110") != 0) return notes;
    std::size_t at = 239;
    for (int left = bytes[129 + 63 + 6]; left > 0; --left) {
        std::uint32_t length = 0;
        std::uint16_t rate = 0;
        std::memcpy(&length, bytes.data() + at + 8, 4);
        std::memcpy(&rate, bytes.data() + at + 20, 2);
        std::uint32_t fretted = 0;
        std::memcpy(&fretted, bytes.data() + at + 30, 4);
        REQUIRE((bytes[at + 55] & 3) == 1);
        at += 96;
        REQUIRE(at + length <= bytes.size());
        std::vector<std::int16_t> values(length / 2);
        std::memcpy(values.data(), bytes.data() + at, length);
        Recording note{
            instrument + " " + std::to_string(notes.size()), static_cast<double>(rate), {}, fretted / 1000.0};
        for (const std::int16_t value : values) note.samples.push_back(static_cast<float>(value) / 32768.0F);
        notes.push_back(withCable(std::move(note)));
        at += length;
    }
    return notes;
}

Recording sample(const std::string& name) {
    auto file = SoundFile::open(std::filesystem::path(LANDFALL_REAL_SAMPLES) / (name + ".flac"));
    REQUIRE(file);
    Recording recording{name, file->sampleRate(),
                        std::vector<float>(static_cast<std::size_t>(20.0 * file->sampleRate()))};
    recording.samples.resize(file->read(recording.samples));
    return withCable(std::move(recording));
}

// aubio's pitch every 5 ms, stamped at its window's centre; 0: none.
std::vector<double> readByAubio(const Recording& recording, const char* method) {
    constexpr uint_t window = 2048;
    const auto hop = static_cast<uint_t>(0.005 * recording.rate);
    aubio_pitch_t* pitch = new_aubio_pitch(method, window, hop, static_cast<uint_t>(recording.rate));
    REQUIRE(pitch != nullptr);
    fvec_t* in = new_fvec(hop);
    fvec_t* out = new_fvec(1);
    std::vector<double> hertz;
    for (std::size_t at = 0; at + hop <= recording.samples.size(); at += hop) {
        for (uint_t i = 0; i < hop; ++i) in->data[i] = recording.samples[at + i];
        aubio_pitch_do(pitch, in, out);
        hertz.push_back(static_cast<double>(out->data[0]));
    }
    del_aubio_pitch(pitch);
    del_fvec(in);
    del_fvec(out);
    const auto late = static_cast<std::ptrdiff_t>(std::lround((window / 2.0 - hop) / hop));
    hertz.erase(hertz.begin(), hertz.begin() + std::min(late, std::ssize(hertz)));
    return hertz;
}

double levelAt(const Recording& recording, double time) {
    const auto half = static_cast<std::ptrdiff_t>(0.005 * recording.rate),
               middle = static_cast<std::ptrdiff_t>(time * recording.rate);
    double power = 0.0;
    for (std::ptrdiff_t n = std::max<std::ptrdiff_t>(middle - half, 0);
         n < std::min(middle + half, std::ssize(recording.samples)); ++n) {
        const auto x = static_cast<double>(recording.samples[static_cast<std::size_t>(n)]);
        power += x * x / static_cast<double>(2 * half);
    }
    return 10.0 * std::log10(power + 1e-14);
}

struct Heard {
    // settled frames within 40 dB of the loudest; with a pitch; beside a second note
    int loud = 0, heard = 0, second = 0;
    // of the loud: where aubio's two agree; heard there; within 35 cents of them
    int sure = 0, sureHeard = 0, agreed = 0;
    std::vector<double> cents;  // from aubio's yinfast, where agreed
    double median() {
        std::sort(cents.begin(), cents.end());
        return cents.empty() ? 0.0 : cents[cents.size() / 2];
    }
    void add(const Heard& other) {
        loud += other.loud, heard += other.heard, sure += other.sure, sureHeard += other.sureHeard,
            agreed += other.agreed;
    }
};

Heard hear(const Recording& recording, double until = 60.0) {
    const auto first = readByAubio(recording, "yinfast"), second = readByAubio(recording, "yinfft");
    double loudest = -140.0;
    const double end = static_cast<double>(recording.samples.size()) / recording.rate;
    for (double t = 0.0; t < end; t += 0.005) loudest = std::max(loudest, levelAt(recording, t));
    PitchTracker tracker({.sampleRate = recording.rate});
    Heard all;
    for (std::size_t at = 0; at < recording.samples.size(); at += 1024)
        for (const PitchFrame& frame :
             tracker
                 .process(std::span(recording.samples)
                              .subspan(at, std::min<std::size_t>(1024, recording.samples.size() - at)))
                 .settled) {
            const double t = frame.centre.value;
            if (t < 0.55 || t > std::min(end - 0.08, 0.5 + until) || levelAt(recording, t) < loudest - 40.0) continue;
            ++all.loud;
            all.heard += frame.pitch.has_value();
            all.second += frame.pitch && frame.otherNote > PitchFrame::twoStrings;
            const auto at5ms = static_cast<std::size_t>(t / 0.005);
            if (at5ms >= std::min(first.size(), second.size()) || first[at5ms] < 60.0 || second[at5ms] < 60.0) continue;
            if (std::abs(interval(Hertz(first[at5ms]), Hertz(second[at5ms])).value) > 35.0) continue;
            ++all.sure;
            if (!frame.pitch) continue;
            ++all.sureHeard;
            double cents = interval(Hertz(first[at5ms]), *frame.pitch).value;
            // A dying string may keep little but its second partial: aubio then names the octave, the file what was
            // fretted.
            if (recording.fretted > 0.0 && std::abs(interval(Hertz(recording.fretted), *frame.pitch).value) < 50.0
                && cents < -600.0)
                cents += 1200.0;
            if (std::abs(cents) > 35.0) continue;
            ++all.agreed;
            all.cents.push_back(cents);
        }
    return all;
}

double share(int part, int whole) { return whole == 0 ? 0.0 : 100.0 * part / whole; }

}  // namespace

TEST_CASE("recorded guitar notes are heard as long as they sound, at the pitch that an independent ear hears") {
    if (std::string(LANDFALL_FREEPATS).empty()) {
        MESSAGE("skipped: freepats is not installed");
        return;
    }
    // aubio reads a stiff string's period, up to 8 cents above the first partial on these; its own spread comes on top.
    for (const std::string instrument :
         {"024_Nylon_Guitar", "025_Steel_Guitar", "026_Jazz_Guitar", "027_Clean_Electric_Guitar"}) {
        Heard all;
        int notes = 0;
        for (const Recording& note : patch(instrument)) {
            Heard heard = hear(note);
            CAPTURE(note.name);
            CHECK(share(heard.heard, heard.loud) > 95.0);
            CHECK(std::abs(heard.median()) < 10.0);
            all.add(heard);
            ++notes;
        }
        MESSAGE(instrument << ": of " << all.loud << " loud frames " << share(all.heard, all.loud)
                           << " % heard; where aubio is sure " << share(all.sureHeard, all.sure) << " %, of these "
                           << share(all.agreed, all.sureHeard) << " % within 35 cents of it");
        CHECK(notes >= 8);
        CHECK(share(all.heard, all.loud) > 99.0);
        CHECK(share(all.agreed, all.sureHeard) > 98.0);
    }
}

// NoteListenerConfig: what is not our own sound rises by 18 dB as soon as it is known, or does not grow by 5 afterwards.
TEST_CASE("recorded strings do not grow once they are struck, as a tone that fades in does; their rise tells little") {
    if (std::string(LANDFALL_FREEPATS).empty()) {
        MESSAGE("skipped: freepats is not installed");
        return;
    }
    int notes = 0, rising = 0, struck = 0;
    for (const std::string instrument :
         {"024_Nylon_Guitar", "025_Steel_Guitar", "026_Jazz_Guitar", "027_Clean_Electric_Guitar"})
        for (const Recording& note : patch(instrument)) {
            PitchTracker tracker({.sampleRate = note.rate});
            std::vector<Onset> onsets;
            std::vector<Growth> growths;
            for (std::size_t at = 0; at + 256 <= note.samples.size(); at += 256) {
                const auto output = tracker.process(std::span(note.samples).subspan(at, 256));
                onsets.insert(onsets.end(), output.onsets.begin(), output.onsets.end());
                growths.insert(growths.end(), output.growths.begin(), output.growths.end());
            }
            CAPTURE(note.name);
            const auto first = std::find_if(onsets.begin(), onsets.end(),
                                            [](const Onset& onset) { return std::abs(onset.time.value - 0.5) < 0.03; });
            if (first == onsets.end()) continue;
            const auto grown = std::find_if(growths.begin(), growths.end(),
                                            [&](const Growth& each) { return each.time == first->time; });
            REQUIRE(grown != growths.end());
            ++notes;
            rising += first->rise >= Decibels(18.0);
            struck += first->rise >= Decibels(18.0) || grown->growth < Decibels(5.0);
        }
    MESSAGE("of " << notes << " strokes " << rising << " rise by 18 dB at once; " << struck << " count as struck");
    CHECK(notes > 20);
    CHECK(share(struck, notes) > 90.0);
}

TEST_CASE("a recorded slide, harmonics and chords are heard as long as they sound") {
    if (std::string(LANDFALL_REAL_SAMPLES).empty()) {
        MESSAGE("skipped: sonic-pi-samples is not installed");
        return;
    }
    const auto told = [](const std::string& name, double until) {
        Heard heard = hear(sample(name), until);
        MESSAGE(name << ": of " << heard.loud << " loud frames " << share(heard.heard, heard.loud) << " % heard, "
                     << share(heard.second, heard.heard) << " % of them beside a second note; where aubio is sure "
                     << share(heard.sureHeard, heard.sure) << " %, of these " << share(heard.agreed, heard.sureHeard)
                     << " % within 35 cents of it");
        return heard;
    };
    // The slide leaves 665 Hz; after 0.4 s its own echo, as loud as it, and two open strings sound beside it, and no
    // one pitch is right.
    Heard slide = told("guit_e_slide", 0.4);
    CHECK(share(slide.heard, slide.loud) > 98.0);
    CHECK(share(slide.agreed, slide.sureHeard) > 85.0);  // 89.5; while it moves aubio's window lags
    CHECK(std::abs(slide.median()) < 5.0);
    const Heard wholeSlide = told("guit_e_slide", 60.0);
    CHECK(share(wholeSlide.heard, wholeSlide.loud) > 60.0);  // 65.6
    const Heard harmonics = told("guit_harmonics", 60.0);
    CHECK(share(harmonics.heard, harmonics.loud) > 98.0);
    CHECK(share(harmonics.agreed, harmonics.sureHeard) > 80.0);  // 86.9: they ring into each other
    // Chords: that they sound, not at which pitch.
    for (const char* chord : {"guit_em9", "guit_e_fifths"}) {
        const Heard heard = told(chord, 60.0);
        CHECK(share(heard.heard, heard.loud) > 96.0);  // 99.9, 97.5
    }
}
