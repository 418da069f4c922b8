using System.Globalization;
using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>The life of one unit: a sequence of moments at which something happens to it.</summary>
internal abstract class UnitRun
{
    protected UnitRun(Floor floor, string item, int index)
    {
        Floor = floor;
        Index = index;
        Unit = new(item, string.Create(CultureInfo.InvariantCulture, $"{Prefix(item)}{index + 1:00000}"));
        Random = SplitMix.For(floor.Seed, Unit.ToString());
    }

    public UnitId Unit { get; }

    /// <summary>The number of the unit among those of its item, from zero.</summary>
    public int Index { get; }

    protected Floor Floor { get; }

    protected SplitMix Random { get; }

    /// <summary>Where the unit stands in time: the end of what was done last.</summary>
    protected DateTimeOffset At { get; set; }

    /// <summary>Everything that happens to it; each moment is given before what happens at it.</summary>
    public abstract IEnumerable<DateTimeOffset> Live(DateTimeOffset from);

    protected bool Meets(TroubleKind kind) => Floor.Plan.Has(this, kind);

    protected void Hit(TroubleKind kind, string? step, string detail) => Floor.Truth.Hit(kind, Unit, step, detail);

    protected TimeSpan Minutes(int from, int to) => TimeSpan.FromSeconds(Random.Int(from * 60, to * 60));

    /// <summary>Opens the unit.</summary>
    protected void Open(string? variant = null) => Open("PLAN-1", "variant", variant, null);

    /// <summary>Opens the unit where it gets its serial, out of a batch.</summary>
    protected void OpenOutOf(string batch, string station, PlantFact soaked) => Open(station, "batch", batch, soaked.Id);

    private void Open(string station, string member, string? value, Guid? after) =>
        Floor.Ledger.Send(Random.Id(), "unit-opened", At, station, station, null, _ =>
        {
            var body = new JsonObject { ["unit"] = Body.Unit(Unit) };
            if (value is not null)
            {
                body[member] = value;
            }

            return body;
        }, Unit, after);

    /// <summary>Does a step as soon as the calendar lets it, with what must follow at once.</summary>
    protected IEnumerable<DateTimeOffset> Do(StepWork work, TimeSpan wait, TimeSpan? reserve = null)
    {
        var start = Floor.Calendar.Fit(At + wait, reserve ?? work.Length);
        yield return start;
        work.StartedAt = start;
        work.Person ??= MasterData.Crew(work.Qualification, Floor.Calendar.IsLateShift(start));
        work.Begin?.Invoke(work);
        if (work is { Announces: true, IsUnrecorded: false })
        {
            Floor.Ledger.Send(Random.Id(), "step-started", start, work.Station, work.Station, work.Person, _ => new()
            {
                ["unit"] = Body.Unit(Unit), ["step"] = work.Step,
            }, Unit);
        }

        var end = start + work.Length;
        yield return end;
        work.CompletedAt = end;
        At = end;
        work.Finish?.Invoke(work);
        NoteTerminal(work);
        if (!work.IsUnrecorded)
        {
            work.Record = Floor.Ledger.Send(
                Random.Id(), "step-completed", end, work.Station, work.Station, work.Person, shown => work.Members(Unit, shown), Unit);
        }
    }

    /// <summary>Waits, in calendar time.</summary>
    protected IEnumerable<DateTimeOffset> Wait(TimeSpan length)
    {
        At = Floor.Calendar.Fit(At + length, TimeSpan.FromMinutes(10));
        yield return At;
    }

    /// <summary>Takes material from the shelf and writes it into the record as a careful person would.</summary>
    protected Taken Use(StepWork work, string item, string requirement, decimal? quantity = null, string? unit = null, string variantOfRecord = "")
    {
        var taken = Floor.Shelf(item).Take(work.StartedAt);
        Record(work, taken, item, requirement, quantity, unit, variantOfRecord);
        return taken;
    }

    /// <summary>Writes what was taken into the record, in full or with something missing.</summary>
    protected void Record(StepWork work, Taken taken, string item, string requirement, decimal? quantity, string? unit, string omission)
    {
        Floor.Truth.Used(Unit, work.Step, item, taken, work.StartedAt);
        if ((item, taken.Lot) == (Floor.Truth.BadItem, Floor.Truth.BadLot))
        {
            Hit(TroubleKind.BadLotUsed, work.Step, taken.Container ?? taken.Lot);
        }

        if (Floor.ExpiredFrom is { } expired && (item, taken.Lot) == (expired.Item, expired.Lot) && work.StartedAt >= expired.At)
        {
            Hit(TroubleKind.ExpirySetEarlier, work.Step, taken.Lot);
        }

        if (taken.OneOf.Count > 1)
        {
            Hit(TroubleKind.LotChangedMidShift, work.Step, string.Join(" or ", taken.OneOf));
        }

        if (omission == "lot")
        {
            Hit(TroubleKind.LotNotScanned, work.Step, $"{item} {taken.Lot}");
            return;
        }

        var amount = quantity is { } value ? Body.Quantity(value, unit!) : null;
        var container = taken.OneOf.Count > 1 ? null : taken.Container;
        if (omission == "container")
        {
            Hit(TroubleKind.ContainerNotScanned, work.Step, $"{item} {taken.Container}");
            container = null;
        }

        IEnumerable<string> lots = omission == "earlier-lot" ? [taken.Earlier ?? "X1"] : taken.OneOf;
        work.Materials.Add(Body.Material(item, lots, container, amount, requirement));
    }

    /// <summary>Quality releases the unit.</summary>
    protected void Release() => Decide("unit-released", new JsonObject());

    /// <summary>Quality decides something about the unit, now.</summary>
    protected PlantFact Decide(string type, JsonObject members, PlantFact? after = null)
    {
        members.Insert(0, "unit", Body.Unit(Unit));
        return Floor.Ledger.Send(Random.Id(), type, At, Senders.Quality, MasterData.Desk, "P-9", _ => members, Unit, after?.Id);
    }

    /// <summary>Quality takes up what was found on a record, and decides about it, one after the other.</summary>
    /// <param name="record">The record.</param>
    /// <param name="findings">What was found on it, each as "kind.rule".</param>
    /// <param name="disposition">As on the wire.</param>
    /// <param name="reason">Why.</param>
    /// <param name="members">What belongs to the disposition beside its reason.</param>
    protected PlantFact Settle(PlantFact record, string[] findings, string disposition, string reason, Func<JsonObject>? members = null)
    {
        PlantFact? last = null;
        foreach (var finding in findings)
        {
            var id = $"{record.Id}.{finding}";
            At = At.AddMinutes(2);
            var taken = Decide("nonconformance-taken-up", new() { ["nonconformance"] = id }, last ?? record);
            At = At.AddMinutes(4);
            var body = members?.Invoke() ?? [];
            body["nonconformance"] = id;
            body["disposition"] = disposition;
            body["reason"] = reason;
            last = Decide("nonconformance-disposed", body, taken);
        }

        return last!;
    }

    private static string Prefix(string item) => item switch { "FP-2" => "", "CA-2" => "C", "DR-2" => "D", _ => "H" };

    private void NoteTerminal(StepWork work)
    {
        foreach (var terminal in Floor.Ledger.Terminals)
        {
            if (terminal.Station == work.Station && work.CompletedAt >= terminal.From && work.CompletedAt < terminal.Until)
            {
                var kind = terminal.ClockError.Duration() < TimeSpan.FromHours(1) ? TroubleKind.ClockSevenMinutesOff : TroubleKind.ClockTwentySixHoursOff;
                Hit(kind, work.Step, $"{terminal.Station} {terminal.ClockError}");
            }
        }
    }
}
