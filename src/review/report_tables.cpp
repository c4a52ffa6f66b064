#include <array>

#include <fmt/core.h>

#include "src/music/note_name.h"
#include "src/review/report_page.h"

namespace landfall {

namespace {

Cell of(const std::optional<double>& number) { return number ? Cell(*number) : Cell(); }
std::int64_t whole(int number) { return number; }

Table studentTable(const StudentReview& review) {
    Table table{{"student", "uuid", "since", "sittings", "days", "tries", "next"}, {}};
    table.rows.push_back({review.student.name, review.student.uuid, review.since ? dayText(*review.since) : Cell(),
                          static_cast<std::int64_t>(review.sittings.size()), whole(review.days), whole(review.tries),
                          review.next});
    return table;
}

Table taskTable(const StudentReview& review) {
    Table table{{"name", "sittings", "tries", "inside"}, {}};
    for (const TaskReview& each : review.tasks)
        table.rows.push_back({each.name, whole(each.sittings), whole(each.tries), whole(each.inside)});
    return table;
}

Table kindTable(const StudentReview& review) {
    Table table{{"kind", "tries", "inside", "under", "over", "lost", "measured", "days", "typical_miss_cents",
                 "spread_cents", "arrival_s", "bias_cents", "doubt_cents"},
                {}};
    for (const KindReview& each : review.kinds)
        table.rows.push_back({nameOf(each.kind), whole(each.tries), whole(each.inside), whole(each.under),
                              whole(each.over), whole(each.lost), whole(each.measured), whole(each.days),
                              each.measured > 0 ? Cell(each.typicalMiss) : Cell(),
                              each.measured > 0 ? Cell(each.spread) : Cell(), of(each.arrival),
                              each.measured > 0 ? Cell(each.bias) : Cell(), of(each.doubt)});
    return table;
}

Table placeTable(const StudentReview& review) {
    Table table{
        {"kind", "string", "fret", "tries", "days", "enough", "bias_cents", "doubt_cents", "spread_cents", "force_n"},
        {}};
    for (const MapCell& each : review.map.cells)
        table.rows.push_back({nameOf(each.kind), whole(each.place.string), whole(each.place.fret), whole(each.tries),
                              whole(each.days), each.tries >= leastForPlace, each.bias, each.doubt, each.spread,
                              each.force > 0.0 ? Cell(each.force) : Cell()});
    return table;
}

Table progressTable(const StudentReview& review) {
    constexpr std::array words{"too early", "none", "nearer", "wider"};
    Table table{{"kind", "change", "first_tries", "first_inside", "aim_cents", "compared_days", "before_cents",
                 "after_cents", "doubt_cents"},
                {}};
    for (const Progress& each : review.progress) {
        const bool compared = each.comparedDays > 0;
        table.rows.push_back({nameOf(each.kind), std::string(words[static_cast<std::size_t>(each.change)]),
                              whole(each.firstTries), whole(each.firstInside), each.aim.value, whole(each.comparedDays),
                              compared ? Cell(each.before) : Cell(), compared ? Cell(each.after) : Cell(),
                              compared ? Cell(each.doubt) : Cell()});
    }
    return table;
}

Table dayTable(const StudentReview& review) {
    Table table{{"kind", "date", "first_tries", "first_cents", "first_se_cents", "later_tries", "later_cents",
                 "later_se_cents"},
                {}};
    for (const Progress& each : review.progress)
        for (const DayMean& one : each.days) {
            std::vector<Cell> row{nameOf(each.kind), dayText(one.at)};
            for (const Estimate& mean : {one.cold, one.warm}) {
                row.emplace_back(whole(mean.count));
                if (mean.count > 0) {
                    row.emplace_back(mean.value);
                    row.emplace_back(mean.se);
                } else row.resize(row.size() + 2);
            }
            table.rows.push_back(std::move(row));
        }
    return table;
}

constexpr std::array exampleWords{"best", "typical", "worst"};

Table exampleTable(const StudentReview& review) {
    Table table{
        {"example", "sitting", "try", "at", "drill", "kind", "string", "fret", "first_stop_error_cents", "sentence"},
        {}};
    for (const Example& each : review.examples) {
        const Landing& landing = each.oneTry.landing;
        const auto& place = landing.move.place;
        table.rows.push_back({std::string(exampleWords[static_cast<std::size_t>(each.kind)]), each.sitting,
                              whole(each.oneTry.number), utcText(each.oneTry.at), each.oneTry.drill,
                              nameOf(moveKindOf(landing.move)), place ? Cell(whole(place->string)) : Cell(),
                              place ? Cell(whole(place->fret)) : Cell(),
                              landing.firstStopError ? Cell(landing.firstStopError->value) : Cell(), landing.sentence});
    }
    return table;
}

Table curveTable(const StudentReview& review) {
    Table table{{"example", "since_stroke_s", "from_target_cents"}, {}};
    for (const Example& each : review.examples)
        for (const CurvePoint& point : each.curve)
            table.rows.push_back({std::string(exampleWords[static_cast<std::size_t>(each.kind)]),
                                  point.sinceStroke.value, point.fromTarget ? Cell(point.fromTarget->value) : Cell()});
    return table;
}

Table careTable(const StudentReview& review) {
    Table table{{"week_begins", "sittings", "bends", "week_limit", "sitting_limit", "most_in_sitting"}, {}};
    for (const WeekOfCare& week : review.care.weeks)
        table.rows.push_back({utcText(week.begins).substr(0, 10), whole(week.sittings), whole(week.bends),
                              whole(review.care.weekLimit), whole(review.care.sittingLimit),
                              whole(review.care.mostInSitting)});
    return table;
}

Table noteTable(const StudentReview& review) {
    Table table{{"written", "on", "text"}, {}};
    for (const KeptNote& note : review.notes) table.rows.push_back({utcText(note.written), subjectOf(note), note.text});
    return table;
}

std::vector<JsonMember> tablesOf(const StudentReview& review) {
    return {{"report", studentTable(review), true},
            {"homework", homeworkTable(review.homework)},
            {"practised", taskTable(review)},
            {"kinds", kindTable(review)},
            {"places", placeTable(review)},
            {"progress", progressTable(review)},
            {"days", dayTable(review)},
            {"examples", exampleTable(review)},
            {"curves", curveTable(review)},
            {"notes", noteTable(review)},
            {"care", careTable(review)}};
}

}  // namespace

std::string reportAsJson(const StudentReview& review) { return toJson(tablesOf(review)); }

// One table of all: which table, which row of it, which column, what stands there.
std::string reportAsCsv(const StudentReview& review) {
    Table all{{"table", "row", "column", "value"}, {}};
    for (const JsonMember& member : tablesOf(review))
        for (std::size_t row = 0; row < member.table.rows.size(); ++row)
            for (std::size_t column = 0; column < member.table.columns.size(); ++column)
                all.rows.push_back({member.name, static_cast<std::int64_t>(row + 1), member.table.columns[column],
                                    member.table.rows[row][column]});
    return toCsv(all);
}

}  // namespace landfall
