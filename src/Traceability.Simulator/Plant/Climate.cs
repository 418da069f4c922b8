using System.Globalization;
using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>How warm it is where cases cure: 22 Cel, but for one late shift in which the heating fails. Read every quarter of an hour.</summary>
/// <remarks>The temperatures and the table of the adhesive are invented. Between two readings the temperature is linear in time.</remarks>
internal sealed class Climate(PlantCalendar calendar, int coldDay)
{
    /// <summary>Where it is read, by the station that reports it.</summary>
    public static readonly string[] Places = ["CASE-1", "CASE-2"];

    /// <summary>The adhesive's time to handling, by temperature in Cel.</summary>
    public static readonly (decimal Celsius, int Minutes)[] Table = [(10m, 30), (16m, 16), (22m, 10), (30m, 6)];

    private const int QuartersADay = 66;
    private const int QuartersAReport = 16;
    private const int QuartersALastReport = 2;

    // The heating fails after nine hours; within two it is at 14 Cel.
    private DateTimeOffset FailsAt => calendar.DayStart(coldDay).AddHours(9);

    /// <summary>Whether a bond that is made now, and loaded within a quarter of an hour, cures in the cold.</summary>
    public bool IsCold(DateTimeOffset at) => at >= FailsAt.AddHours(2) && at <= FailsAt.AddHours(6.5);

    /// <summary>The temperature in Cel at that time.</summary>
    public double At(DateTimeOffset at)
    {
        var hours = (at - FailsAt).TotalHours;
        return hours <= 0 || hours >= 15 ? 22 : Math.Max(14, 22 - (4 * hours));
    }

    /// <summary>How long a bond made at that time takes until it can be loaded, in whole seconds.</summary>
    public TimeSpan Needed(DateTimeOffset from) => Needed(from, Table);

    /// <summary>How long something that starts at that time takes, by its own table, in whole seconds.</summary>
    public TimeSpan Needed(DateTimeOffset from, (decimal Celsius, int Minutes)[] table)
    {
        var (dose, seconds) = (0.0, 0);
        for (; dose < 1 - 1e-9; seconds++)
        {
            dose += 1 / SecondsAt(At(from.AddSeconds(seconds + 0.5)), table);
        }

        return TimeSpan.FromSeconds(seconds);
    }

    /// <summary>The table as a part of the item's definition.</summary>
    public static JsonObject Cure() => new()
    {
        ["rows"] = new JsonArray([.. Table.Select(r => (JsonNode)new JsonObject
        {
            ["temperature"] = Body.Quantity(r.Celsius, "Cel"), ["handling"] = string.Create(CultureInfo.InvariantCulture, $"PT{r.Minutes}M"),
        })]),
    };

    /// <summary>Reports the readings, each station its own; on the last day as they come, so that what cures now is known.</summary>
    public void Send(Ledger ledger, SplitMix random)
    {
        for (var day = 0; day < calendar.Days; day++)
        {
            var start = calendar.DayStart(day);
            var length = day == calendar.Days - 1 ? QuartersALastReport : QuartersAReport;
            var times = Enumerable.Range(0, QuartersADay + 1).Select(q => (Quarter: q, At: start.AddMinutes(15 * q))).Where(t => t.At <= calendar.Now);

            // All readings of one report are of one day in UTC.
            foreach (var report in times.GroupBy(t => (t.At.UtcDateTime.Date, t.Quarter / length)))
            {
                Array.ForEach(Places, place => Report(ledger, random, place, [.. report.Select(t => t.At)]));
            }
        }
    }

    // Arrhenius: ln(time) is linear in 1/T between two rows.
    private static double SecondsAt(double celsius, (decimal Celsius, int Minutes)[] table)
    {
        var row = Array.FindLastIndex(table, r => (double)r.Celsius <= celsius);
        var (low, high) = (table[row], table[row + 1]);
        double Inverse(double c) => 1 / (c + 273.15);
        var share = (Inverse(celsius) - Inverse((double)low.Celsius)) / (Inverse((double)high.Celsius) - Inverse((double)low.Celsius));
        return Math.Exp(Math.Log(low.Minutes * 60) + (share * (Math.Log(high.Minutes * 60) - Math.Log(low.Minutes * 60))));
    }

    private void Report(Ledger ledger, SplitMix random, string place, DateTimeOffset[] times) =>
        ledger.Send(random.Id(), "temperature-recorded", times[^1], place, place, null, shown => new()
        {
            ["place"] = place,
            ["readings"] = new JsonArray([.. times.Select(t => (JsonNode)new JsonObject
            {
                ["at"] = shown(t), ["temperature"] = Body.Quantity((decimal)At(t), "Cel"),
            })]),
        });
}
