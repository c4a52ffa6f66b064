#include "src/app/sitting_keeper.h"

#include <algorithm>
#include <utility>

namespace landfall {

namespace {

constexpr auto sittingEnds = std::chrono::hours(1);  // without a try

}  // namespace

SittingKeeper::SittingKeeper(const Settings& inUse, SittingWish given) : settings(inUse), asked(std::move(given)) {}

Result<void> SittingKeeper::begin(const SourceWish& input) {
    const auto wish = simulated.chosenFor(asked, input);
    auto begun = wish ? RunningSitting::begin(*wish, input, settings) : wish.error();
    if (!begun) {
        said = begun.error().message;
        return begun.error();
    }
    if (sitting && sitting->log().drain().waiting > 0) unsaved.push_back(std::move(sitting));
    sitting = std::move(*begun);
    kept = wish->log == asked.log;
    return {};
}

void SittingKeeper::beginAfterPause(const SourceWish& input, CalendarTime now) {
    if (now - lastTry <= sittingEnds) return;
    static_cast<void>(begin(input));
    load = {};
    lastTry = now;
}

void SittingKeeper::beginFor(const Settings& before, const SourceWish& input) {
    if (settings.student != before.student) asked.student = settings.student;
    if (settings.log != before.log) asked.log.clear();
    static_cast<void>(begin(input));
    load = {};
}

int SittingKeeper::end(const std::vector<double>& stiffness) {
    sitting->keepStiffness(stiffness);
    int status = sitting->end();
    for (const auto& earlier : unsaved) status = std::max(status, earlier->end());
    return status;
}

}  // namespace landfall
