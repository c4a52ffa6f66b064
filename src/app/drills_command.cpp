// `landfall drills`: lists the drills; `landfall drills NAME` explains one.
#include <algorithm>
#include <array>
#include <iterator>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/formats/drill_file.h"

namespace landfall {

namespace {

constexpr std::array targetWords{"concert pitch", "the note started from, plus the interval",
                                 "the frets as this guitar sounds them", "pure against the lower string"};

// Minutes to the nearest half: nobody rests by the second.
void list(const std::vector<Drill>& drills, const Guitar& guitar) {
    std::size_t nameWidth = 0, placeWidth = 0;
    for (const Drill& drill : drills) {
        nameWidth = std::max(nameWidth, drill.name.size());
        placeWidth = std::max(placeWidth, describePlaces(drill, guitar).size());
    }
    for (const Drill& drill : drills) {
        fmt::print("{:<{}}  {:<{}}  {:>2} tries  {:>7}\n", drill.name, nameWidth, describePlaces(drill, guitar),
                   placeWidth, totalTries(drill), minutesWords(drillLength(drill)));
        fmt::print("{:<{}}  {}\n", "", nameWidth, drill.trains);
    }
    fmt::print("\n`landfall drills NAME` explains one; `landfall practise NAME` plays it.\n");
}

void explain(const Drill& drill, const Guitar& guitar) {
    const int sets = static_cast<int>(drill.places.size()) * drill.sets;
    fmt::print("{}\n{}\n\n{}{}{}\n\n", drill.name, drill.trains, drill.how, drill.meanwhile.empty() ? "" : " ",
               drill.meanwhile);
    fmt::print("Each try   {}\n", describeSteps(drill));
    fmt::print("Where      {}\n", describePlaces(drill, guitar));
    fmt::print("How often  {} set{} of {} tries, {:g} s of rest after each: about {}\n", sets, sets == 1 ? "" : "s",
               drill.tries, drill.rest.value, minutesWords(drillLength(drill)));
    if (drill.guidedTries > 0)
        fmt::print("Help       the pitch is shown in the first {} tries{}\n", drill.guidedTries,
                   drill.lastSetByEar ? ", and in the last set not until you choose to see it" : "");
    if (drill.target) fmt::print("Target     {}\n", targetWords[static_cast<std::size_t>(*drill.target)]);
    if (isDemanding(drill))
        fmt::print("Care       a full step is hard work: warm up first, and stop if anything hurts\n");
    for (const std::string& missing : placesOn(drill, guitar).missing) fmt::print("Not here   {}\n", missing);
}

}  // namespace

int runDrills(const DrillsOptions& options) {
    Guitar guitar;
    auto strings = parseTuning(options.tuning);
    if (!strings) return wrongUsage(strings.error());
    guitar.openStrings = std::move(*strings);
    guitar.capo = options.capo;
    guitar.highestFret = options.frets;
    if (const auto checked = checkGuitar(guitar); !checked) return wrongUsage(checked.error());
    if (options.drill.empty()) {
        std::vector<Drill> all = builtInDrills();
        if (const auto folder = ownDrillsFolder()) {
            OwnDrills own = ownDrills(*folder);
            all.insert(all.end(), std::make_move_iterator(own.drills.begin()),
                       std::make_move_iterator(own.drills.end()));
            for (const std::string& problem : own.problems) fmt::print(stderr, "landfall: {}\n", problem);
        }
        if (options.json) fmt::print("{}\n", drillsAsJson(all, guitar));
        else list(all, guitar);
        return 0;
    }
    const auto drill = findDrill(options.drill);
    if (!drill) return fail(drill.error());
    if (options.file) {
        const std::string_view text = builtInDrillText(drill->name);
        if (text.empty())
            return fail({Error::Code::notFound,
                         fmt::format("'{}' is a file of your own already; open it in an editor", options.drill)});
        fmt::print("{}", text);
    } else if (options.json) {
        fmt::print("{}\n", drillAsJson(*drill, guitar));
    } else {
        explain(*drill, guitar);
    }
    return 0;
}

}  // namespace landfall
