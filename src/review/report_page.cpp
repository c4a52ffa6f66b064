#include "src/review/report_page.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "src/practice/words.h"
#include "src/review/report_drawings.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// A page of a notebook: what it is about stands in the margin. Blue under and orange over as in the window (Okabe and
// Ito, 2008), darker where a thin line has to be seen; words are ink or quiet ink, 7 : 1 and more on the paper.
constexpr const char* style = R"css(
:root{color-scheme:light}
*{box-sizing:border-box}
body{margin:0 auto;padding:1.2rem;max-width:52rem;background:#fbfaf4;color:#22201b;font:15px/1.4 Inter,"DejaVu Sans",sans-serif;overflow-wrap:anywhere}
h1{font-size:1.6rem;font-weight:600;margin:0 0 .2rem}
header p{margin:0;color:#504c42}
header p.next{margin-top:.7rem;padding:.5rem .8rem;border-left:.35rem solid #22201b;color:#22201b;font-size:1.05rem}
section{display:grid;grid-template-columns:7.5rem minmax(0,1fr);gap:.2rem 1.2rem;border-top:1px solid #b9b3a2;margin-top:.9rem;padding-top:.6rem}
section>div{min-width:0}
h2{font-size:.95rem;font-weight:600;margin:0}
p{margin:.1rem 0 .4rem}
p.quiet,figcaption span,footer{color:#504c42;font-size:.83rem}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;font-size:.9rem}
th,td{text-align:left;padding:.12rem .7rem .12rem 0;vertical-align:top}
thead th{color:#504c42;font-weight:400;font-size:.83rem;border-bottom:1px solid #b9b3a2}
tbody th{font-weight:600}
.side{display:grid;grid-template-columns:repeat(auto-fit,minmax(15rem,1fr));gap:.5rem 1.2rem}
.curves{grid-template-columns:repeat(3,minmax(0,1fr))}
.broad{grid-column:1/-1}.broad svg{max-width:40rem}
h1.long{font-size:1.05rem}
figure{margin:0;break-inside:avoid}
figcaption{font-size:.9rem;font-weight:600}
figcaption span{display:block;font-weight:400}
svg{display:block;width:100%;max-width:34rem;height:auto}
svg text{font:11px Inter,"DejaVu Sans",sans-serif;fill:#22201b;text-anchor:middle}
svg .count{fill:#504c42}svg .bias{font-weight:600;font-size:13px}svg .doubt{font-size:10.5px}
svg .axis,svg .left{text-anchor:start;fill:#504c42;font-size:10px}svg .right{text-anchor:end;fill:#504c42;font-size:10px}
svg .fret{stroke:#d5d0c1;stroke-width:1}svg .string{stroke:#8d8778;stroke-width:1.2}svg .target{stroke:#22201b;stroke-width:1}
svg .few{fill:#fbfaf4;stroke:#b9b3a2;stroke-dasharray:2 2}
svg rect.cell{fill:#fff;stroke:#504c42}svg rect.under{fill:#dcecf6;stroke:#0072b2}svg rect.over{fill:#fbe6cf;stroke:#b35900}
svg path.under{fill:#0072b2}svg path.over{fill:#b35900}
svg .aim{fill:#ece8da}svg .curve{fill:none;stroke:#22201b;stroke-width:1.6}svg .stop{fill:#fff;stroke:#22201b;stroke-width:1.5}
svg .whisker{stroke:#8d8778;stroke-width:1}svg .warm{fill:#8d8778}svg .cold{fill:#fff;stroke:#22201b;stroke-width:1.6}
.write{border-bottom:1px solid #22201b;height:1.9rem}
footer{border-top:1px solid #b9b3a2;margin-top:.9rem;padding-top:.4rem}
@media(max-width:40rem){body{padding:.8rem}section{grid-template-columns:minmax(0,1fr)}th,td{padding-right:.4rem}.wide{display:none}.curves{grid-template-columns:minmax(0,1fr)}figure{overflow-x:auto}svg{min-width:calc(.85*var(--w))}}
@page{margin:13mm}
@media print{html{font-size:12px}body{background:#fff;padding:0;max-width:none;font-size:12px}section{margin-top:.5rem;padding-top:.35rem}section.whole{break-inside:avoid}svg{max-width:22rem}.broad svg{max-width:40rem}.days{grid-template-columns:repeat(2,minmax(0,1fr))}.days svg{max-width:17rem}}
)css";

// So that the page stays at two sheets; what is left out is said.
constexpr std::size_t mostTasks = 6, mostKinds = 6, mostNecks = 2, mostProgress = 2, mostHomework = 6, mostNotes = 4;

std::string section(const char* title, const std::string& inside) {
    return fmt::format("<section class=\"whole\"><h2>{}</h2><div>{}</div></section>\n", title, inside);
}

std::string table(const std::vector<std::pair<std::string, bool>>& heads,
                  const std::vector<std::vector<std::string>>& rows) {
    std::string html = "<table><thead><tr>";
    for (const auto& [head, wide] : heads)
        html += fmt::format("<th scope=\"col\"{}>{}</th>", wide ? " class=\"wide\"" : "", head);
    html += "</tr></thead><tbody>";
    for (const auto& row : rows) {
        html += "<tr>";
        for (std::size_t i = 0; i < row.size(); ++i)
            html += i == 0 ? fmt::format("<th scope=\"row\">{}</th>", row[i])
                           : fmt::format("<td{}>{}</td>", heads[i].second ? " class=\"wide\"" : "", row[i]);
        html += "</tr>";
    }
    return html + "</tbody></table>\n";
}

std::string quiet(const std::string& words) {
    return words.empty() ? "" : fmt::format("<p class=\"quiet\">{}</p>\n", words);
}

std::string leftOut(std::size_t all, std::size_t shown, const char* what) {
    return all > shown ? fmt::format("{} more {} are left out here.", all - shown, what) : "";
}

std::string header(const StudentReview& review) {
    const std::string name = escaped(review.student.name.empty() ? "a student without a name" : review.student.name);
    std::string html = fmt::format("<header><h1{}>Practice of <bdi>{}</bdi></h1>\n",
                                   characterCount(review.student.name) > 40 ? " class=\"long\"" : "", name);
    if (review.sittings.empty())
        html += fmt::format("<p>No sitting{}.</p>",
                            review.since ? " since " + dayText(*review.since) : std::string(" yet"));
    else
        html += fmt::format("<p>{} to {} · {} on {} · {}</p>", dayText(review.sittings.front().sitting.started),
                            dayText(review.sittings.back().sitting.started),
                            counted(review.sittings.size(), "sitting", "sittings"),
                            counted(static_cast<std::size_t>(review.days), "day", "days"),
                            counted(static_cast<std::size_t>(review.tries), "try", "tries"));
    html += fmt::format("<p class=\"next\"><strong>What next.</strong> {}</p></header>\n", escaped(review.next));
    return html;
}

std::string homework(const StudentReview& review) {
    if (review.homework.empty()) return "";
    std::vector<std::vector<std::string>> rows;
    std::string lessons, problems;
    for (const Homework& lesson : review.homework) {
        lessons += fmt::format("{}<bdi>{}</bdi>{}, {}", lessons.empty() ? "" : "; ", escapedBriefly(lesson.title),
                               lesson.from.empty() ? "" : " from <bdi>" + escapedBriefly(lesson.from) + "</bdi>",
                               dayText(lesson.received));
        if (!lesson.problem.empty()) problems += "<p>" + escapedBriefly(lesson.problem) + "</p>";
        for (const TaskDone& each : lesson.tasks)
            rows.push_back({fmt::format("<bdi>{}</bdi>", escapedBriefly(each.asked.name())), escaped(askedWords(each)),
                            escaped(doneWords(each))});
    }
    const std::size_t all = rows.size();
    rows.resize(std::min(all, mostHomework));
    return section("Homework", fmt::format("<p>{}</p>{}", lessons, problems)
                                   + (rows.empty() ? "" : table({{"", false}, {"asked", false}, {"done", false}}, rows))
                                   + quiet(leftOut(all, mostHomework, "tasks")));
}

std::string practised(const StudentReview& review) {
    if (review.tasks.empty()) return "";
    std::vector<std::vector<std::string>> rows;
    for (const TaskReview& each : std::span(review.tasks).first(std::min(mostTasks, review.tasks.size())))
        rows.push_back({fmt::format("<bdi>{}</bdi>", escapedBriefly(each.name)), std::to_string(each.sittings),
                        std::to_string(each.tries), fmt::format("{} of {}", each.inside, each.tries)});
    return section(
        "What was practised",
        table({{"drill or phrase", false}, {"sittings", true}, {"tries", false}, {"inside the aim", false}}, rows)
            + quiet(leftOut(review.tasks.size(), mostTasks, "drills and phrases")));
}

std::string kinds(const StudentReview& review) {
    if (review.kinds.empty()) return "";
    std::vector<std::vector<std::string>> rows;
    for (const KindReview& each : std::span(review.kinds).first(std::min(mostKinds, review.kinds.size()))) {
        const std::string miss = each.measured > 0 ? fmt::format("{:.0f} ¢ off", each.typicalMiss) : "by fret";
        const std::string lean = each.measured == 0 ? "–"
                                 : each.doubt
                                     ? fmt::format("{} (±\u00a0{:.0f})", leaning(each.bias), saidDoubt(*each.doubt))
                                     : fmt::format("{} day{}: not known yet", each.days, each.days == 1 ? "" : "s");
        rows.push_back({capitalised(nameOf(each.kind)), std::to_string(each.tries),
                        fmt::format("{} of {}", each.inside, each.tries), miss, lean, std::to_string(each.lost)});
    }
    return section(
        "How it lands",
        table({{"", false},
               {"tries", true},
               {"inside the aim", false},
               {"usually", false},
               {"on the whole", false},
               {"died", true}},
              rows)
            + quiet("First stops, in cents: 100 are one fret. ± holds the true value nine times in ten, from the "
                    "days' means. Guided and dropped tries are left out. Slides count by the fret they reach. "
                    + leftOut(review.kinds.size(), mostKinds, "kinds")));
}

std::string map(const StudentReview& review) {
    std::vector<MoveKind> order;
    std::vector<int> tries;
    for (const MapCell& cell : review.map.cells) {
        const auto at = std::ranges::find(order, cell.kind);
        if (at != order.end()) tries[static_cast<std::size_t>(at - order.begin())] += cell.tries;
        else {
            order.push_back(cell.kind);
            tries.push_back(cell.tries);
        }
    }
    std::vector<std::size_t> places(order.size());
    for (std::size_t i = 0; i < places.size(); ++i) places[i] = i;
    std::ranges::stable_sort(places, std::greater{}, [&](std::size_t i) { return tries[i]; });
    if (places.empty()) return "";
    std::string necks;
    for (const std::size_t i : std::span(places).first(std::min(mostNecks, places.size())))
        necks += neckFigure(review, order[i]);
    const std::string cold = std::abs(review.map.cold) >= 2.0
                                 ? fmt::format(" A day's very first try lands about {}.", leaning(review.map.cold))
                                 : "";
    return section(
        "Where on the neck",
        fmt::format("<div class=\"side\">{}</div>", necks)
            + quiet(fmt::format("− under, + over; the wedge points where the pitch has to go; white: no side that is "
                                "sure. 12 ×: tried so often, and {} are needed for a verdict. Each place is helped "
                                "by its neighbours, over all that was played lately.{} {}",
                                leastForPlace, cold, leftOut(places.size(), mostNecks, "kinds"))));
}

std::string examples(const StudentReview& review) {
    if (review.examples.empty()) return "";
    constexpr const char* names[] = {"Best", "Typical", "Worst"};
    std::string figures;
    for (const Example& each : review.examples) {
        const Landing& landing = each.oneTry.landing;
        const auto& place = landing.move.place;
        const std::string where = place && hasPlace(review.guitar, *place) ? placeName(review.guitar, *place) : "";
        figures += fmt::format("<figure><figcaption>{}: {}<span>{} · {} · try {}.{}</span></figcaption>{}</figure>",
                               names[static_cast<int>(each.kind)], escapedBriefly(landing.sentence), escaped(where),
                               dayText(each.oneTry.at), each.sitting, each.oneTry.number, curveDrawing(each));
    }
    return section("Three tries",
                   fmt::format("<p>{}: what misses most.</p><div class=\"side curves\">{}</div>",
                               capitalised(nameOf(*review.shown)), figures)
                       + quiet("The line is the pitch, the band the aim, the circle where it stopped first."));
}

std::string changed(const StudentReview& review) {
    if (review.progress.empty()) return "";
    std::vector<const Progress*> order;
    for (const Progress& each : review.progress) order.push_back(&each);
    std::ranges::stable_sort(order, std::greater{}, [](const Progress* each) { return each->firstTries; });
    std::string figures;
    for (const Progress* each : std::span(order).first(std::min(mostProgress, order.size())))
        figures += fmt::format("<figure><figcaption>{}<span>{}</span></figcaption>{}</figure>",
                               capitalised(nameOf(each->kind)), escaped(wordsOf(*each)), daysDrawing(*each));
    return section(
        "What changed",
        fmt::format("<div class=\"side days\">{}</div>", figures)
            + quiet("White: a day's first five tries, grey: the later ones. Days differ, so days are compared, and "
                    "only after 10, 20, 40 and 80 of them. "
                    + leftOut(order.size(), mostProgress, "kinds")));
}

std::string notes(const StudentReview& review) {
    if (review.notes.empty()) return "";
    std::vector<std::vector<std::string>> rows;
    for (const KeptNote& each : std::span(review.notes).first(std::min(mostNotes, review.notes.size())))
        rows.push_back({dayText(each.written), subjectOf(each),
                        fmt::format("<bdi>{}</bdi>", escapedBriefly(each.text, longestNote))});
    return section("Notes", table({{"", false}, {"on", false}, {"", false}}, rows)
                                + quiet(leftOut(review.notes.size(), mostNotes, "notes")));
}

std::string care(const StudentReview& review) {
    const CareReview& care = review.care;
    if (care.weeks.empty()) return "";
    return section("The hand", fmt::format("<p>{}</p>", wordsOf(care, care.weeks.size()))
                                   + quiet("The limits are careful guesses, not medical advice. Stop when it hurts."));
}

}  // namespace

std::string reportPage(const StudentReview& review, CalendarTime now) {
    const std::string name = escaped(review.student.name);
    std::string page =
        "<!DOCTYPE html>\n<html xmlns=\"http://www.w3.org/1999/xhtml\" lang=\"en\">\n<head><meta "
        "charset=\"utf-8\"/>\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
        "'unsafe-inline'\"/>\n";
    page += fmt::format("<title>Practice of {}</title>\n<style>{}</style></head>\n<body>\n<main>\n", name, style);
    page += header(review) + homework(review) + practised(review) + kinds(review) + map(review) + examples(review)
            + changed(review) + notes(review) + care(review);
    page += section("Your line", "<p>What I noticed, in one line:</p><div class=\"write\"></div>");
    page += fmt::format(
        "</main>\n<footer>Made by Landfall on {} from this student's log alone. Nothing in this file is "
        "fetched from anywhere.</footer>\n</body></html>\n",
        dayText(now));
    return page;
}

}  // namespace landfall
