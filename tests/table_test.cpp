#include "src/formats/table.h"

#include <limits>
#include <random>

#include <fmt/core.h>

#include <doctest/doctest.h>

#include "tests/support/command.h"

using namespace landfall;

namespace {

// What Python's own readers make of a text; they know nothing of this program.
std::string pythonReads(const TestFolder& folder, const std::string& text, const std::string& program) {
    writeText(folder / "in", text);
    writeText(folder / "read.py", program);
    const auto ran = runCommand(
        fmt::format("PYTHONUTF8=1 python3 '{}' '{}' 2>&1", (folder / "read.py").string(), (folder / "in").string()));
    CHECK_MESSAGE(ran.status == 0, ran.output);
    return ran.output;
}

const Table trying{{"plain", "comma, and \"quotes\"", "number"},
                   {{std::string("a,b"), std::string("she said \"22 under\""), -22.25},
                    {std::string("two\r\nlines"), std::string(" spaced "), std::int64_t{7}},
                    {Cell{}, std::string("E♭"), true},
                    {std::string("\"\""), std::string(), std::numeric_limits<double>::quiet_NaN()}}};

}  // namespace

TEST_CASE("CSV follows RFC 4180 to the letter") {
    // RFC 4180 (Shafranovich 2005), section 2: CRLF ends each record (1), a header line (3), fields with commas, quotes
    // or line breaks are quoted (6), quotes doubled (7). A field with spaces at its ends is quoted because spaces are
    // part of it (4).
    CHECK(toCsv(trying) == "plain,\"comma, and \"\"quotes\"\"\",number\r\n"
                           "\"a,b\",\"she said \"\"22 under\"\"\",-22.25\r\n"
                           "\"two\r\nlines\",\" spaced \",7\r\n"
                           ",E♭,true\r\n"
                           "\"\"\"\"\"\",,\r\n");
}

TEST_CASE("Python's csv module reads the same fields back") {
    const TestFolder folder;
    const auto read = pythonReads(
        folder, toCsv(trying),
        "import csv, sys\nrows = list(csv.reader(open(sys.argv[1], newline='', encoding='utf-8'), strict=True))\n"
        "want = [['plain','comma, and \"quotes\"','number'],['a,b','she said \"22 under\"','-22.25'],"
        "['two\\r\\nlines',' spaced ','7'],['','E\\u266d','true'],['\"\"','','']]\nprint(rows == want)\n");
    CHECK(read == "True\n");
}

TEST_CASE("Python's json module reads the same values back, null for what was not measured") {
    const TestFolder folder;
    Table strange{{"text", "inf"}, {{std::string("broken \xC3( tail"), std::numeric_limits<double>::infinity()}}};
    const auto read = pythonReads(
        folder, toJson({{"rows", trying}, {"one", trying, true}, {"none", {{"a"}, {}}, true}, {"strange", strange}}),
        "import json, sys\nd = json.load(open(sys.argv[1], encoding='utf-8'), parse_constant=lambda c: 1/0)\nr = "
        "d['rows']\n"
        "print(list(d), len(r), r[0]['number'] == -22.25, r[1]['plain'] == 'two\\r\\nlines', r[2]['plain'] is None, "
        "r[2]['number'] is True,"
        " r[3]['number'] is None, d['one'] == r[0], d['none'] is None, d['strange'][0]['inf'] is None)\n");
    CHECK(read == "['rows', 'one', 'none', 'strange'] 4 True True True True True True True True\n");
}

TEST_CASE("every double is read back as itself from CSV and from JSON") {
    const TestFolder folder;
    std::mt19937_64 random(4180);
    Table table{{"x", "hex"}, {}};
    for (int i = 0; i < 300; ++i) {
        const double x = std::ldexp(std::uniform_real_distribution(-1.0, 1.0)(random),
                                    std::uniform_int_distribution(-60, 60)(random));
        table.rows.push_back({x, fmt::format("{:a}", x)});
    }
    const std::string check = "print(all(float(x) == float.fromhex(h) for x, h in rows), len(rows))\n";
    CHECK(pythonReads(folder, toCsv(table),
                      "import csv, sys\nrows = list(csv.reader(open(sys.argv[1], newline='')))[1:]\n" + check)
          == "True 300\n");
    CHECK(pythonReads(
              folder, toJson({{"r", table}}),
              "import json, sys\nrows = [(r['x'], r['hex']) for r in json.load(open(sys.argv[1]))['r']]\n" + check)
          == "True 300\n");
}

TEST_CASE("the terminal's columns line up by what is seen, not by bytes") {
    const Table table{{"drill", "miss"},
                      {{std::string("näher"), 12.34}, {std::string("Half up"), Cell{}}, {std::string("a"), -3.0}}};
    CHECK(toColumns(table) == "drill    miss\nnäher    12.3\nHalf up     –\na        -3.0\n");
}
