// `landfall demo`: the simulated student Ines plays three drills through the whole chain; her marks beside the truth.
#include <algorithm>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "dsp/statistics.h"
#include "src/app/commands.h"
#include "src/app/drill_loop.h"
#include "src/app/sitting.h"
#include "src/formats/drill_file.h"
#include "src/music/note_name.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

std::string centsText(const std::optional<Cents>& cents) { return cents ? fmt::format("{:+.1f}", cents->value) : "–"; }

// The truth counts from the second of a double stroke; the try may have begun at the first, up to 0.6 s earlier.
const MoveTruth* truthOf(const std::vector<MoveTruth>& truths, const Landing& landing) {
    for (const MoveTruth& truth : truths)
        if (truth.moveNumber == landing.moveNumber && landing.onset.value > truth.onset.value - 0.6
            && landing.onset < truth.end)
            return &truth;
    return nullptr;
}

std::string place(const Landing& landing, const Guitar& guitar) {
    return landing.move.place ? placeName(guitar, *landing.move.place) : noteName(landing.move.from);
}

// What was marked against what was really played.
struct Compared {
    std::vector<double> misses;  // cents
    int played = 0, found = 0, extra = 0;
};

void compare(const Drill& drill, const DrillLoopFindings& result, const std::vector<MoveTruth>& truths,
             const Guitar& guitar, Compared& all) {
    fmt::print("{}: {}\n", drill.name, drill.trains);
    fmt::print("  {:>3}  {:<24} {:>8} {:>8} {:>6}  {}\n", "try", "place", "marked", "true", "diff", "Landfall says");
    int number = 0;
    for (const Landing& landing : result.landings) {
        const MoveTruth* truth = truthOf(truths, landing);
        std::string difference = "–";
        if (truth == nullptr) ++all.extra;
        else if (landing.firstStopError && truth->firstStopError) {
            const double miss = landing.firstStopError->value - truth->firstStopError->value;
            all.misses.push_back(std::abs(miss));
            difference = fmt::format("{:.1f}", std::abs(miss));
        }
        all.found += truth != nullptr ? 1 : 0;
        fmt::print("  {:>3}  {:<24} {:>8} {:>8} {:>6}  {}\n", ++number, place(landing, guitar),
                   centsText(landing.firstStopError), truth != nullptr ? centsText(truth->firstStopError) : "–",
                   difference, landing.sentence);
    }
    all.played += static_cast<int>(result.landings.size());
    fmt::print("  {}\n  {}\n\n", whole(result.summary.words), result.summary.nextStep);
}

}  // namespace

int runDemo(const DemoOptions& options) {
    const SourceWish input{.input = "simulated"};
    SimulatedLog ownLog;
    const auto wished = ownLog.chosenFor(options.sitting, input);
    if (!wished) return fail(wished.error());
    auto sitting = RunningSitting::begin(*wished, input);
    if (!sitting) return fail(sitting.error());
    RunningSitting& now = **sitting;
    const Guitar guitar;
    now.greet();
    fmt::print("Demo: the simulated student Ines plays three drills, and Landfall listens to every sound of it.\n");
    fmt::print("First stops in cents (100 are one fret): + over, - under. \"true\" is what her string really did.\n\n");
    SittingLoad load;
    Compared all;
    for (const char* name : {"Half up", "Whole up", "Twelve along"}) {
        const auto drill = findDrill(name);
        if (!drill) return fail(drill.error());
        SimulatedSource source(
            {.seed = options.seed + static_cast<std::uint32_t>(all.played), .guitar = guitar, .skill = ines()}, false);
        const auto result = playDrill(
            {.play =
                 {.session = {.runner = {.drill = *drill, .guitar = guitar, .aim = now.settings().aim, .load = load},
                              .sampleRate = source.sampleRate()}},
             .mostTries = options.tries,
             .skipWaits = true,
             .quiet = true},
            source, now.log(), [&now] { return now.word(); });
        if (!result) return fail(result.error());
        load = result->load;
        compare(*drill, *result, source.truths(), guitar, all);
        if (result->stopped) break;
    }
    if (!all.misses.empty())
        fmt::print(
            "{} tries marked: {} that the student played, {} that she did not. Marks differ from the truth by {:.2f} "
            "cents "
            "(median), {:.2f} at most.\n",
            all.played, all.found, all.extra, median(all.misses),
            *std::max_element(all.misses.begin(), all.misses.end()));
    const int status = now.end();
    if (status == 0)
        fmt::print(
            "{}\nNext: landfall drills  ·  landfall practise \"Half up\" --input simulated  ·  landfall mark TAKE "
            "--move bend:D4:E4 --summary\n",
            ownLog.inUse() ? "Her tries are not kept (--log FILE keeps them): your log is yours alone."
                           : fmt::format("The tries are in {}.", printable(now.log().state().log.string())));
    return all.extra > 0 ? 1 : status;
}

}  // namespace landfall
