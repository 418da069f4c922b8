using System.Text.Json;
using Traceability.Domain.Cure;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads temperatures, tables of times to cure, and the minima that depend on them.</summary>
internal static class CureReader
{
    private static readonly Shape ReadingShape = new("at", "temperature");
    private static readonly Shape TableShape = new("rows");
    private static readonly Shape RowShape = new("temperature", "handling", "full");
    private static readonly Shape ConditionShape = new("requirement", "state", "fallback", "readingGapMax", "place");

    /// <summary>Temperatures that were read.</summary>
    public static TemperatureRecorded Temperatures(ObjectReading o, CommonMembers c)
    {
        var fact = new TemperatureRecorded(o.Code<StationCode>("place"), o.List("readings", ReadReading))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        if (fact.Readings.IsEmpty)
        {
            o.Fail("readings", "At least one reading is expected.");
        }

        for (var i = 0; i < fact.Readings.Length; i++)
        {
            // One that could not be read has been told.
            var at = fact.Readings[i].At;
            var detail = at == default || fact.Readings[0].At == default ? null
                : DateOnly.FromDateTime(at.UtcDateTime) != fact.Day ? $"The first reading is of {fact.Day:yyyy-MM-dd} in UTC, and this one isn't. Send the readings of another day as another fact."
                : c.At != default && at > c.At ? "A reading can't be later than the report of it (occurredAt)."
                : null;
            if (detail is not null)
            {
                o.Reading.Enter("readings");
                o.Reading.Enter(i);
                o.Reading.Fail("at", detail);
                o.Reading.Leave();
                o.Reading.Leave();
            }
        }

        return fact;
    }

    /// <summary>A table of times to cure.</summary>
    public static CureTable Table(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, TableShape);
        var rows = o.List("rows", ReadRow);
        if (rows.IsEmpty)
        {
            o.Fail("rows", "At least one row is expected.");
        }

        for (var i = 0; i < rows.Length; i++)
        {
            if (Contradiction(rows, i) is { } detail)
            {
                reading.Enter("rows");
                reading.Enter(i);
                reading.Fail(null, detail);
                reading.Leave();
                reading.Leave();
            }
        }

        return new(rows);
    }

    /// <summary>A minimum that depends on temperature.</summary>
    public static CureCondition Condition(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ConditionShape);
        var condition = new CureCondition(
            o.Code<Code>("requirement"), o.OneOf<CureState>("state"), Duration(o, "fallback"), Duration(o, "readingGapMax"), o.CodeOrNull<StationCode>("place"));
        if (condition.ReadingGapMax > TimeSpan.FromDays(1))
        {
            o.Fail("readingGapMax", "Readings that are more than a day apart tell nothing of the time between.");
        }

        return condition;
    }

    private static TimeSpan Duration(ObjectReading o, string name)
    {
        if (!o.Has(name))
        {
            o.Fail(name, "The member is missing.");
            return default;
        }

        var duration = o.DurationOrNull(name);
        if (duration == TimeSpan.Zero)
        {
            o.Fail(name, "The duration must be longer than nothing.");
        }

        return duration ?? default;
    }

    private static TemperatureReading ReadReading(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ReadingShape);
        return new(o.Time("at"), o.Value("temperature", Temperature));
    }

    private static CureRow ReadRow(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, RowShape);
        var row = new CureRow(o.Value("temperature", Temperature), o.DurationOrNull("handling"), o.DurationOrNull("full"));
        if (!o.Has("handling") && !o.Has("full"))
        {
            reading.Fail(null, "A row tells the time to handling, to full cure, or both.");
        }

        foreach (var (name, time) in new[] { ("handling", row.Handling), ("full", row.Full) })
        {
            if (time == TimeSpan.Zero)
            {
                o.Fail(name, "The duration must be longer than nothing.");
            }
        }

        if (row.Handling > row.Full)
        {
            o.Fail("handling", "Handling can't take longer than the full cure.");
        }

        return row;
    }

    /// <summary>A temperature above absolute zero.</summary>
    public static EnteredQuantity Temperature(JsonReading reading, JsonElement element)
    {
        var temperature = Parts.Quantity(reading, element);
        if (temperature.Unit.Length > 0 && !Domain.Cure.Temperatures.TryKelvin(temperature, out _))
        {
            reading.Fail("value", "A temperature above absolute zero is expected, such as 21.5 in Cel.");
        }

        return temperature;
    }

    // What is wrong with a row beside an earlier one.
    private static string? Contradiction(ImmutableArray<CureRow> rows, int index)
    {
        var row = rows[index];
        if (!Domain.Cure.Temperatures.TryKelvin(row.Temperature, out var kelvin))
        {
            return null;
        }

        foreach (var other in rows.AsSpan()[..index])
        {
            if (!Domain.Cure.Temperatures.TryKelvin(other.Temperature, out var before))
            {
                continue;
            }

            if (kelvin.Equals(before))
            {
                return $"There is a row for {other.Temperature} before.";
            }

            var (cold, hot) = kelvin < before ? (row, other) : (other, row);
            if (hot.Handling > cold.Handling || hot.Full > cold.Full)
            {
                return $"It takes longer at {hot.Temperature} than at {cold.Temperature}; a hotter row must not take longer.";
            }
        }

        return null;
    }
}
