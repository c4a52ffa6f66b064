#include "src/app/line_loop.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <thread>

#include <fmt/core.h>

#include "src/app/safe_lines.h"
#include "src/practice/line_practice.h"
#include "src/practice/line_words.h"

namespace landfall {

namespace {

std::string moveWords(const LineMove& asked) {
    const Move& move = asked.move;
    std::string words = filledIn(kindOf(move.gesture).asked, move.gesture, move.width(), move.targetFret.value_or(0));
    if (asked.vibrato && move.gesture != Gesture::vibrato) words += " with vibrato";
    return move.place && asked.picked ? fmt::format("{} {}/{}", words, move.place->string, move.place->fret) : words;
}

std::string wordsOf(const Line& line, const PassOver& over, Cents aim) {
    const PassWords words = wordsOf(line, over.marks, aim);
    std::string all = fmt::format("\nPass {}: {}\n\n{}\n", over.pass, words.share, words.headline);
    for (const std::string& each : words.failed) all += "\n  " + each;
    return all + (words.failed.empty() ? "" : "\n") + (words.tempo.empty() ? "" : "\n" + words.tempo);
}

}  // namespace

std::string lineTable(const Line& line) {
    std::string table;
    for (std::size_t i = 0; i < line.moves.size(); ++i) {
        const bool begins = i == 0 || line.moves[i].bar != line.moves[i - 1].bar;
        if (begins) table += fmt::format("{}bar {:<3} ", i == 0 ? "" : "\n", line.moves[i].bar);
        table += (begins ? "" : ", ") + moveWords(line.moves[i]);
    }
    return table + "\n";
}

int practiseLine(const Line& line, const LineLoopConfig& config, SoundSource& source, StoreWriter& log,
                 const std::function<std::optional<std::string>()>& word) {
    LinePractice practice(line, source.sampleRate(), config.a4);
    SafeLines lines(log);
    int passes = 0;
    const auto tell = [&](std::span<const LineEvent> events) {
        for (const LineEvent& event : events)
            if (const auto* over = std::get_if<PassOver>(&event)) {
                for (const Landing& landing : triesOf(line, over->marks))
                    log.add({.drill = line.title, .landing = landing, .aim = config.aim, .takeFile = {}});
                lines.say(wordsOf(line, *over, config.aim));
                passes = over->pass;
            }
    };
    std::array<float, 512> block{};
    const std::array<float, 512> silence{};
    for (bool ended = false; !ended;) {
        while (const auto report = source.report()) fmt::print("{}\n", report->line);
        const auto heard = source.read(block);
        // A gap is heard as silence, so that what was cut off ends there.
        for (auto left = std::min<std::uint64_t>(heard.missing, 60 * std::uint64_t{192000}); left > 0;) {
            const auto piece = static_cast<std::size_t>(std::min<std::uint64_t>(left, silence.size()));
            tell(practice.process(std::span(silence).first(piece)));
            left -= piece;
        }
        tell(practice.process(std::span(block).first(heard.samples)));
        ended = heard.ended;
        while (const auto typed = word()) ended = ended || *typed == "q";
        lines.go();
        std::fflush(stdout);
        if (heard.samples == 0 && !ended) std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    tell(practice.finish());
    log.drain();
    lines.go();
    return passes;
}

}  // namespace landfall
