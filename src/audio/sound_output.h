// What the program plays: a tone and a recording, mixed. Made for one sample rate, rendered by whoever has a device.
// One thread.
#pragma once

#include "src/audio/playback.h"
#include "src/audio/tone.h"

namespace landfall {

class SoundOutput {
public:
    explicit SoundOutput(double sampleRate) : tone(sampleRate), recording(sampleRate) {}

    // `loudest` in dBFS, peak. A tone takes the place of the one before, a recording that of the recording before.
    void play(Hertz frequency, Seconds length, Decibels loudest) noexcept { tone.play(frequency, length, loudest); }
    void play(std::shared_ptr<const std::vector<float>> samples, double recordedRate, Decibels loudest) noexcept {
        recording.play(std::move(samples), recordedRate, loudest);
    }
    void endRecording() noexcept { recording.stop(); }
    bool playsRecording() const noexcept { return recording.playing(); }

    // Overwrites the block; silence where nothing plays.
    void render(std::span<float> block) noexcept {
        tone.render(block);
        recording.add(block);
    }

private:
    Tone tone;
    Playback recording;
};

}  // namespace landfall
