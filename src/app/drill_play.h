// A drill being played, the part that terminal and window share: gaps heard as silence, takes kept, a row of the log
// for every try, the target note sounded. One thread, the analysis thread.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/app/sound_source.h"
#include "src/audio/speech_service.h"
#include "src/audio/take_file.h"
#include "src/practice/drill_session.h"
#include "src/store/store_writer.h"

namespace landfall {

// A folder of its own for the takes of a drill that begins now. Where it cannot be made the message says that their
// sound is not kept.
Result<std::filesystem::path> newTakesFolder();

class DrillPlay {
public:
    struct Config {
        DrillSession::Config session;
        bool targetNote = false;                   // the target is sounded before each place ...
        Decibels soundLevel{-30.0};                // ... so loud: peak, dBFS
        Sounded results = Sounded::nothing;        // of a try that may be told at once
        std::shared_ptr<SpeechService> speaker{};  // for results that are spoken
        std::filesystem::path takes{};             // folder for a FLAC file of each try; empty: none is kept
    };
    // A try as the log numbers it.
    struct Row {
        int number = 0;
        Landing landing;
    };
    using Told = std::function<void(const ListenerEvent&)>;

    // `log` must live longer. Fails where the drill cannot be played on this guitar or by the rules of care.
    static Result<std::unique_ptr<DrillPlay>> make(const Config& config, StoreWriter& log);

    // What a source gave: `missing` samples first. What was being played then is no try and is asked for again; half a
    // second of silence is heard in their place at most, so that what was cut off ends there and a rest does not run
    // down while the device is away. `samples` are quantised in place. `tell` is called for every event, after the log has its row; the
    // session's state is then that after these samples.
    void hear(std::span<float> samples, std::uint64_t missing, const Told& tell);
    // The input is over.
    void finish(const Told& tell);
    // What the player says by ear of the last try; what to say to that. Empty: there is nothing to guess.
    std::optional<Words> guess(Guess said);
    // Lets the source know what is asked: the simulated student plays it, and the target note sounds once at each
    // place.
    void lead(SoundSource& source);
    void soundTarget(SoundSource& source);
    void soundTargets(bool wanted, Decibels level, Sounded results, std::shared_ptr<SpeechService> speaker);

    DrillSession& session() { return *drill; }
    const Config& plan() const { return config; }
    const std::vector<Row>& rows() const { return logged; }
    // Takes that could not be kept, one line each, since the last call.
    std::vector<std::string> takeTrouble();

private:
    DrillPlay(const Config& given, std::unique_ptr<DrillSession> made, StoreWriter& writer);
    void handle(const ListenerEvent& event);
    std::optional<StrokeKind> strokeOf(const Landing& landing) const;
    void keepCurve(LoggedTry& row) const;
    void keepStringCurve(LoggedTry& row) const;
    void tellBySound(const Landing& landing);
    void soundResult(SoundSource& source);
    void hearPiece(std::span<float> samples, const Told& tell);

    Config config;
    std::unique_ptr<DrillSession> drill;
    StoreWriter& log;
    std::shared_ptr<const Task> task;
    std::vector<Row> logged;
    NeckPlace sounded{0, 0};
    std::vector<LiveStrings> strings{};  // of the note that sounds, or sounded last
    std::optional<Landing> toSound;      // the last try's last step, until its result sounds

    std::mutex troubleMutex;  // told by the takes' writing thread
    std::vector<std::string> trouble;
    std::unique_ptr<TakeKeeper> keeper;  // last: its thread uses the two above
};

}  // namespace landfall
