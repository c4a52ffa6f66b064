#include "src/store/try_curve.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include <zlib.h>

namespace landfall {

namespace {

constexpr char version = 1;
constexpr int noPitch = -32768;
constexpr std::size_t pointBytes = 4;
// A try lasts 30 s at the most, 200 frames each; a stranger's bytes may say more, and are not believed.
constexpr std::size_t mostBytes = 1 + pointBytes * 20000;
constexpr double mostTenths = 16000.0;  // so that a difference fits

void put(std::string& bytes, int number) {
    const auto bits = static_cast<std::uint16_t>(number);
    bytes += static_cast<char>(bits & 0xFF);
    bytes += static_cast<char>(bits >> 8);
}

int take(std::string_view bytes, std::size_t at) {
    const auto low = static_cast<unsigned char>(bytes[at]), high = static_cast<unsigned char>(bytes[at + 1]);
    return static_cast<std::int16_t>(static_cast<std::uint16_t>(low | high << 8));
}

}  // namespace

std::string packCurve(std::span<const CurvePoint> points) {
    std::string plain(1, version);
    long last = 0, lastCents = 0;  // ms, tenths of a cent
    for (const CurvePoint& point : points) {
        if (!std::isfinite(point.sinceStroke.value)) continue;
        const long at = std::lround(point.sinceStroke.value * 1000.0);
        if (at - last < -32768 || at - last > 32767 || plain.size() + pointBytes > mostBytes) continue;
        const bool told = point.fromTarget && std::abs(point.fromTarget->value * 10.0) <= mostTenths;
        const long cents = told ? std::lround(point.fromTarget->value * 10.0) : lastCents;
        put(plain, static_cast<int>(at - last));
        put(plain, told ? static_cast<int>(cents - lastCents) : noPitch);
        last = at;
        lastCents = cents;
    }
    uLongf length = compressBound(static_cast<uLong>(plain.size()));
    std::string packed(length, '\0');
    compress2(reinterpret_cast<Bytef*>(packed.data()), &length, reinterpret_cast<const Bytef*>(plain.data()),
              static_cast<uLong>(plain.size()), Z_BEST_COMPRESSION);
    packed.resize(length);
    return packed;
}

std::optional<TryCurve> unpackCurve(std::string_view bytes) {
    std::string plain(mostBytes, '\0');
    auto length = static_cast<uLongf>(plain.size());
    if (uncompress(reinterpret_cast<Bytef*>(plain.data()), &length, reinterpret_cast<const Bytef*>(bytes.data()),
                   static_cast<uLong>(bytes.size()))
        != Z_OK)
        return {};
    plain.resize(length);
    if (plain.empty() || plain[0] != version || (plain.size() - 1) % pointBytes != 0) return {};
    TryCurve points;
    long at = 0, cents = 0;
    for (std::size_t byte = 1; byte < plain.size(); byte += pointBytes) {
        at += take(plain, byte);
        const int change = take(plain, byte + 2);
        if (change != noPitch) cents += change;
        CurvePoint& point = points.emplace_back();
        point.sinceStroke = Seconds(static_cast<double>(at) / 1000.0);
        if (change != noPitch) point.fromTarget = Cents(static_cast<double>(cents) / 10.0);
    }
    return points;
}

}  // namespace landfall
