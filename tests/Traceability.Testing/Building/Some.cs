using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Testing.Building;

/// <summary>Values that a test doesn't care about, and short ways to write those that it does.</summary>
public static class Some
{
    /// <summary>The moment that tests count from: Monday 2 March 2026, noon UTC.</summary>
    public static DateTimeOffset Noon { get; } = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);

    public static StationCode Station { get; } = StationCode.Parse("ST-1");

    public static PersonCode Person { get; } = PersonCode.Parse("P-1");

    public static PersonCode Quality { get; } = PersonCode.Parse("P-9");

    /// <summary>A clock that is exactly right.</summary>
    public static ClockReading RightClock { get; } = new(TimeSpan.Zero, TimeSpan.Zero, Doubtful: false);

    public static DateTimeOffset At(double minutes) => Noon.AddMinutes(minutes);

    public static Code Code(string text) => Domain.Primitives.Code.Parse(text);

    public static StepCode Step(string text) => StepCode.Parse(text);

    public static ItemNumber Item(string text) => ItemNumber.Parse(text);

    public static UnitKey Unit(string item, string serial) => new(ItemNumber.Parse(item), SerialNumber.Parse(serial));

    /// <summary>Times to handling and to full cure, in minutes, by temperature in degrees Celsius.</summary>
    public static CureTable CureTable(params (decimal Celsius, double? Handling, double? Full)[] rows) => new([.. rows.Select(r => new CureRow(
        new(r.Celsius, "Cel"), r.Handling is { } h ? TimeSpan.FromMinutes(h) : null, r.Full is { } f ? TimeSpan.FromMinutes(f) : null))]);

    public static TemperatureRecorded Temperature(string place, double at, decimal celsius) =>
        new(StationCode.Parse(place), [new(At(at), new(celsius, "Cel"))]) { OccurredAt = At(at), Clock = RightClock };

    public static LotKey Lot(string item, string lot) => new(ItemNumber.Parse(item), LotNumber.Parse(lot));

    public static EnteredQuantity Quantity(decimal value, string unit) => new(value, unit);

    /// <summary>An id that is the same in every run.</summary>
    public static Guid Id(int number) => new(number, 0, 0, new byte[8]);
}
