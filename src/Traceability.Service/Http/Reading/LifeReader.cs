using System.Text.Json;
using Traceability.Domain.Cure;
using Traceability.Domain.Items;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads what an item is mixed of, and how long it may be used by temperature.</summary>
internal static class LifeReader
{
    // How long a life by temperature is followed.
    private static readonly TimeSpan TimeMax = TimeSpan.FromDays(31);

    private static readonly Shape MixShape = new("parts", "tolerance");
    private static readonly Shape PartShape = new("item", "amount");
    private static readonly Shape TableShape = new("rows", "readingGapMax", "place");
    private static readonly Shape RowShape = new("temperature", "time");

    /// <summary>What an item is mixed of.</summary>
    public static Mixture Mix(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MixShape);
        var mix = new Mixture(o.List("parts", ReadPart), o.Number("tolerance"));
        if (mix.Parts.Length < 2)
        {
            o.Fail("parts", "A mix has at least two parts.");
        }

        if (mix.Tolerance is < 0 or > 1)
        {
            o.Fail("tolerance", "A share from 0 to 1 is expected, such as 0.05 for 5 %.");
        }

        for (var i = 1; i < mix.Parts.Length; i++)
        {
            if (mix.Parts.AsSpan()[..i].ToArray().Any(p => p.Item == mix.Parts[i].Item && p.Item != default))
            {
                Fail(reading, "parts", i, "item", $"{mix.Parts[i].Item} stands there before. Each part is named once.");
            }
        }

        return mix;
    }

    /// <summary>How long something may be used, by temperature.</summary>
    public static LifeTable Table(JsonReading reading, JsonElement element)
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
                Fail(reading, "rows", i, null, detail);
            }
        }

        if (!o.Has("readingGapMax"))
        {
            o.Fail("readingGapMax", "The member is missing.");
        }

        var gap = o.DurationOrNull("readingGapMax");
        if (gap == TimeSpan.Zero || gap > TimeSpan.FromDays(1))
        {
            o.Fail("readingGapMax", "A duration above nothing and up to a day is expected: readings further apart tell nothing of the time between.");
        }

        return new(rows, gap ?? default, o.CodeOrNull<StationCode>("place"));
    }

    /// <summary>Tells what of an item doesn't go together.</summary>
    public static void Check(ObjectReading o, ItemDefined item)
    {
        if (item is { Mix: not null, Kind: not ItemKind.Consumable })
        {
            o.Fail("mix", "Only a consumable is mixed.");
        }

        if (item.Mix is { } mix && mix.Parts.Any(p => p.Item == item.Item && item.Item != default))
        {
            o.Fail("mix", "An item is no part of itself.");
        }

        if (item.PotLife == TimeSpan.Zero)
        {
            o.Fail("potLife", "The duration must be longer than nothing.");
        }

        if (item is { PotLifeByTemperature: not null, PotLife: null })
        {
            o.Fail("potLife", "The fixed time that holds where there are no readings is expected beside potLifeByTemperature.");
        }

        if (item is { OpenedLifeByTemperature: not null, LifeAfterOpening: null })
        {
            o.Fail("lifeAfterOpening", "The fixed time that holds where there are no readings is expected beside openedLifeByTemperature.");
        }
    }

    private static MixturePart ReadPart(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, PartShape);
        var part = new MixturePart(o.Code<ItemNumber>("item"), o.Value("amount", Parts.Amount));
        if (part.Amount is { Value: 0, Unit.Length: > 0 })
        {
            o.Fail("amount", "An amount above 0 is expected.");
        }

        return part;
    }

    private static LifeRow ReadRow(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, RowShape);
        if (!o.Has("time"))
        {
            o.Fail("time", "The member is missing.");
        }

        var row = new LifeRow(o.Value("temperature", CureReader.Temperature), o.DurationOrNull("time") ?? TimeSpan.FromTicks(1));
        if (row.Time <= TimeSpan.Zero || row.Time > TimeMax)
        {
            o.Fail("time", "A duration above nothing and up to 31 days is expected.");
        }

        return row;
    }

    // What is wrong with a row beside an earlier one.
    private static string? Contradiction(ImmutableArray<LifeRow> rows, int index)
    {
        var row = rows[index];
        if (!Temperatures.TryKelvin(row.Temperature, out var kelvin))
        {
            return null;
        }

        foreach (var other in rows.AsSpan()[..index])
        {
            if (!Temperatures.TryKelvin(other.Temperature, out var before))
            {
                continue;
            }

            if (kelvin.Equals(before))
            {
                return $"There is a row for {other.Temperature} before.";
            }

            var (cold, hot) = kelvin < before ? (row, other) : (other, row);
            if (hot.Time > cold.Time)
            {
                return $"It lasts longer at {hot.Temperature} than at {cold.Temperature}; a hotter row must not last longer.";
            }
        }

        return null;
    }

    private static void Fail(JsonReading reading, string list, int index, string? member, string detail)
    {
        reading.Enter(list);
        reading.Enter(index);
        reading.Fail(member, detail);
        reading.Leave();
        reading.Leave();
    }
}
