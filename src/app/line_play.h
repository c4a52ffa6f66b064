// A line being practised, the part that terminal and window share: the whole of it or the moves that failed, rests, and
// a row of the log for each bend and slide. One thread, the analysis thread.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "src/app/sound_source.h"
#include "src/practice/faster_passes.h"
#include "src/practice/line_care.h"
#include "src/practice/line_practice.h"
#include "src/practice/line_words.h"
#include "src/store/store_writer.h"

namespace landfall {

class LinePlay {
public:
    struct Config {
        Line line;
        LineCare::Config care;
        double sampleRate = 48000.0;
        Hertz a4 = standardA4;
        Cents aim{25.0};
        std::optional<double> tempo{};  // asked, quarters a minute; else the player's own
    };
    // A line's own tempo, or this one, where nobody plays it yet.
    static constexpr double usualTempo = 90.0;

    struct Told {
        std::function<void(const LineEvent&)> line;
        std::function<void(const ListenerEvent&)> input;  // levels, strokes and pitch, whatever is played
    };

    // `log` must live longer.
    LinePlay(Config given, StoreWriter& log);

    // What a source gave: `missing` samples first, heard as silence so that what was cut off ends there; `samples` are
    // quantised in place. Of a pass the log has its rows before it is told. While the hand rests, no pass is heard.
    void hear(std::span<float> samples, std::uint64_t missing, const Told& tell);
    // The input is over, or waits: so is the pass in progress.
    void finish(const Told& tell);
    // Lets the source know what is asked: the simulated student plays it.
    void lead(SoundSource& source) const;

    // From now on the moves that failed in the last pass, with all that sounds under their strokes. False: none did.
    bool onlyFailed();
    void whole();
    // Goes on from a warm-up.
    void next() { rests.next(); }
    // Strikes the last pass in the log. False: there is none.
    bool discard();

    const Line& line() const { return asked->line; }  // asked now: the whole or a part
    bool isPart() const { return asked->line.moves.size() < config.line.moves.size(); }
    // Of the last pass: of what was asked then.
    const PassWords& words() const { return lastWords; }
    // Of the passes of the whole line so far: which move breaks first as they get faster. Empty: none.
    std::string faster() const { return fasterWords(config.line, timed); }
    bool anyFailed() const { return !lastWords.moves.empty(); }
    const LineCare& care() const { return rests; }
    const Config& plan() const { return config; }
    Seconds now() const { return Seconds(static_cast<double>(heard) / config.sampleRate); }

private:
    void ask(LinePart part);
    void hearPiece(std::span<const float> samples, const Told& tell);
    void take(std::span<const LineEvent> events, const Told& tell);
    void passOver(const PassOver& over);

    Config config;
    StoreWriter& log;
    std::shared_ptr<const Task> task;
    LineCare rests;
    std::unique_ptr<LinePart> asked;
    std::unique_ptr<LinePractice> practice;  // of `asked`
    std::uint64_t heard = 0;                 // samples
    int passes = 0;                          // of the log: told, parts of the line too
    bool resting = false;                    // when the last of them were heard
    PassWords lastWords;
    std::vector<int> lastRows;     // of the log
    std::vector<TimedPass> timed;  // passes of the whole line that had a tempo
};

}  // namespace landfall
