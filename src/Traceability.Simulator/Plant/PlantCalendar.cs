namespace Traceability.Simulator.Plant;

/// <summary>When the plant works: two shifts of eight hours in a row, five days of seven, in the time of its site.</summary>
/// <remarks>
/// The calendar is laid backwards from the end of the simulation, which falls into the sixth hour of a working day:
/// a demo that is started at any hour of any day has work under way.
/// </remarks>
internal sealed class PlantCalendar
{
    /// <summary>The site's time zone (IANA).</summary>
    public const string ZoneName = "Europe/Copenhagen";

    private static readonly TimeSpan DayLength = TimeSpan.FromHours(16);
    private readonly DateTimeOffset[] _days;
    private readonly TimeZoneInfo _zone = TimeZoneInfo.FindSystemTimeZoneById(ZoneName);

    public PlantCalendar(DateTimeOffset now, int workingDays)
    {
        Now = new(now.UtcDateTime.AddTicks(-(now.UtcTicks % TimeSpan.TicksPerSecond)), TimeSpan.Zero);
        var today = new DateTimeOffset(Now.UtcDateTime.AddTicks(-(Now.UtcTicks % TimeSpan.TicksPerHour)), TimeSpan.Zero).AddHours(-5);
        _days = new DateTimeOffset[workingDays];
        var day = today;
        var weekday = 3;
        for (var i = workingDays - 1; i >= 0; i--)
        {
            _days[i] = day;
            day = weekday == 0 ? day.AddDays(-3) : day.AddDays(-1);
            weekday = weekday == 0 ? 4 : weekday - 1;
        }
    }

    /// <summary>The end of the simulation.</summary>
    public DateTimeOffset Now { get; }

    /// <summary>How many working days there are; the last one is under way.</summary>
    public int Days => _days.Length;

    /// <summary>When a working day starts.</summary>
    public DateTimeOffset DayStart(int day) => _days[Math.Clamp(day, 0, _days.Length - 1)];

    /// <summary>That time if work of this length can be finished on its day; else the start of the next working day.</summary>
    /// <remarks>Beyond the last day the work does not happen: it gets a time after <see cref="Now"/>.</remarks>
    public DateTimeOffset Fit(DateTimeOffset at, TimeSpan length)
    {
        foreach (var start in _days)
        {
            if (at < start)
            {
                return start;
            }

            if (at + length <= start + DayLength)
            {
                return at;
            }
        }

        return at.AddDays(30);
    }

    /// <summary>Whether that time is in the late shift.</summary>
    public bool IsLateShift(DateTimeOffset at)
    {
        var start = _days[0];
        foreach (var day in _days)
        {
            start = day <= at ? day : start;
        }

        return at - start >= DayLength / 2;
    }

    /// <summary>The time as the site's clocks show it, with offset.</summary>
    public DateTimeOffset Local(DateTimeOffset at) => TimeZoneInfo.ConvertTime(at, _zone);
}
