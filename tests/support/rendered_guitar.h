// Sampled real guitars with a programmed pitch: a MIDI file written here, played by Debian's fluidsynth with a General
// MIDI sound font.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace landfall {

// After `hold` seconds on the pitch so far the wheel travels in `travel` seconds to `cents` above the key: smoothly, or
// fret by fret.
struct ProgrammedTravel {
    double hold = 0.4;
    double travel = 0.2;
    double cents = 0.0;
    bool fretByFret = false;
};

struct ProgrammedNote {
    int program = 27;  // General MIDI from 0: 24 nylon, 25 steel, 26 jazz, 27 clean electric guitar
    int key = 60;
    double startCents = 0.0;  // a pre-bend
    std::vector<ProgrammedTravel> travels;
    double lastHold = 0.9;
};

struct RenderedNote {
    std::vector<float> samples;    // 48 kHz, from 0.3 s before the note to its fading
    double onset = 0.0;            // seconds in samples
    double end = 0.0;              // note off
    std::vector<double> arrivals;  // of each travel
    std::vector<double> cents;     // that then sound above the key: whole cents
};

// a cable, or a microphone in a room: fluidsynth's reverberation, 8 dB below the guitar
enum class Place { line, room };

// Empty where fluidsynth or the sound font is missing; the reason is in `why`.
std::optional<std::vector<RenderedNote>> renderGuitar(const std::vector<ProgrammedNote>& notes, std::string& why,
                                                      Place place = Place::line);

// A Standard MIDI File as fluidsynth plays it: mono, 48 kHz. Empty as above.
std::optional<std::vector<float>> renderMidi(const std::string& midi, std::string& why, Place place = Place::line);

// The frequency of the first partial from `from` to `to` seconds: the peak of a Hann-windowed Fourier sum within 60
// cents of `guess`. Shares no code with the tracker.
double firstPartial(const std::vector<float>& samples, double from, double to, double guess);

}  // namespace landfall
