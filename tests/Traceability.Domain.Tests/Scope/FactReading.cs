using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Scope;
using Traceability.Testing.Scope.Facts;

namespace Traceability.Domain.Tests.Scope;

/// <summary>A completion that counts, or a void one, as a person would read the records.</summary>
internal sealed record ReadAttempt(Guid Id, StepCompleted Record, double From, double To, RevisionCode Revision, int Epoch, bool IsStartTold);

/// <summary>A step that must have been done and of which no record that counts tells.</summary>
internal sealed record ReadMissing(StepCode Step, RevisionCode Revision, bool IsVoid, double From, double To, StationCode? Station = null);

/// <summary>A time in which something was inside the unit by its records.</summary>
internal sealed record ReadStay(Code Position, UnitKey Component, double From, double To, bool IsDisplaced);

/// <summary>What the facts of one unit say, read without any of the service's own judging: corrections and voids applied, in order of time.</summary>
internal sealed class FactReading
{
    /// <summary>A minute before everything.</summary>
    public const int Earliest = -6;

    private readonly List<(Guid Id, Fact Fact, double At, bool IsVoid)> _facts = [];
    private readonly List<(double At, RevisionCode Revision, StepCode[] Carried)> _epochs = [];

    public FactReading(UnitKey unit, IReadOnlyList<RecordedFact> told)
    {
        Unit = unit;
        foreach (var fact in told.Where(t => t.Fact is not (RecordCorrected or RecordVoided)))
        {
            var content = told.Where(t => t.Fact is RecordCorrected c && c.Record == fact.Id && !IsVoid(told, t.Id)).OrderBy(t => t.Fact.OccurredAt)
                .Select(t => ((RecordCorrected)t.Fact).Replacement).LastOrDefault(fact.Fact);
            _facts.Add((fact.Id, content, Minute(content.OccurredAt), IsVoid(told, fact.Id)));
        }

        _facts.Sort((a, b) => a.At.CompareTo(b.At));
        var opened = Standing<UnitOpened>().FirstOrDefault();
        Variant = (opened.Fact ?? (UnitOpened)_facts.Last(f => f.Fact is UnitOpened).Fact).Variant;
        Opened = opened.Fact is null ? null : opened.At;
        Lot = opened.Fact?.Lot;
        _epochs.Add((double.MinValue, Plant.Revisions[Variant is null ? 0 : 1], []));
        _epochs.AddRange(Standing<UnitMovedToRevision>().Select(m => (m.At, m.Fact.Revision, m.Fact.CarriesOver.ToArray())));
        Attempts = [.. _facts.Where(f => f is { IsVoid: false, Fact: StepCompleted }).OrderBy(f => f.At).ThenBy(f => Order((StepCompleted)f.Fact)).Select(f => Read(f.Id, (StepCompleted)f.Fact, f.At, isVoid: false))];

        // What was recorded as done before the unit was opened began no later than it was done.
        Attempts = [.. Attempts.Select((a, i) => a with { From = a.From > double.MinValue ? a.From : i > 0 ? Attempts[i - 1].To : Math.Min(Began, a.To) })];
        Voided = [.. _facts.Where(f => f is { IsVoid: true, Fact: StepCompleted }).Select(f => Read(f.Id, (StepCompleted)f.Fact, f.At, isVoid: true)).Select(a => a with { From = a.From > double.MinValue ? a.From : Math.Min(Began, a.To) })];
        Stays = [.. Inside()];
    }

    public UnitKey Unit { get; }

    public VariantCode? Variant { get; }

    /// <summary>When it was opened; null: no record that counts tells.</summary>
    public double? Opened { get; }

    public LotNumber? Lot { get; }

    public ReadAttempt[] Attempts { get; }

    public ReadAttempt[] Voided { get; }

    public ReadStay[] Stays { get; }

    /// <summary>What was taken out though nothing tells that it was in.</summary>
    public List<(Code Position, double At)> Strays { get; } = [];

    /// <summary>When it left by its records: released or shipped.</summary>
    public IEnumerable<double> Departures => Standing<UnitReleased>().Select(f => f.At).Concat(Standing<UnitShipped>().Select(f => f.At));

    /// <summary>From when on it can't be put anywhere.</summary>
    public double Gone => Standing<UnitShipped>().Select(f => f.At).Concat(Standing<UnitScrapped>().Select(f => f.At)).DefaultIfEmpty(double.MaxValue).Min();

    private double Began => Opened ?? Earliest;

    /// <summary>Starts that no completion by the same person at the same station follows, with when the next completion was.</summary>
    public IEnumerable<(StepStarted Start, double At, double To, RevisionCode Revision)> GivenUp() =>
        from start in Standing<StepStarted>()
        let next = Attempts.FirstOrDefault(a => a.Record.Step == start.Fact.Step && a.To >= start.At)
        where next is null || (start.Fact.Station is { } s && s != next.Record.Station) || (start.Fact.Person is { } p && p != next.Record.Person)
        select (start.Fact, start.At, next?.To ?? RandomGenealogy.Now - 1, _epochs[EpochAt(start.At)].Revision);

    /// <summary>Starts after the last completion of their step: it is still being done.</summary>
    public IEnumerable<(StepStarted Start, double At)> Pending() => Standing<StepStarted>().GroupBy(s => s.Fact.Step).Select(g => g.MaxBy(s => s.At))
        .Where(s => !Attempts.Any(a => a.Record.Step == s.Fact.Step && a.To >= s.At)).Select(s => (s.Fact, s.At));

    /// <summary>The revision that holds now.</summary>
    public RevisionCode Now => _epochs[^1].Revision;

    /// <summary>The last attempt at a step before a time that counts for an attempt of that epoch.</summary>
    public ReadAttempt? Before(StepCode step, double at, int epoch) => Attempts.LastOrDefault(a => a.Record.Step == step && a.To <= at && Counts(a, epoch));

    /// <summary>The number of revisions that it was under, less one.</summary>
    public int LastEpoch => _epochs.Count - 1;

    public IEnumerable<ReadMissing> Missing()
    {
        foreach (var voided in Voided.Where(v => !Attempts.Any(a => a.Record.Step == v.Record.Step && a.Epoch == v.Epoch)))
        {
            yield return new(voided.Record.Step, voided.Revision, true, voided.From, voided.To, voided.Record.Station);
        }

        var carried = new Dictionary<StepCode, double>();
        for (var e = _epochs.Count - 1; e >= 0; e--)
        {
            var before = carried;
            carried = [];
            foreach (var (step, next) in new[] { (Plant.Bond, Plant.Screw), (Plant.Screw, default), (Plant.Marry, Plant.Seal), (Plant.Seal, default(StepCode)) }.Where(p => IsOf(p.Item1)))
            {
                var (epoch, isLast) = (e, e == _epochs.Count - 1);
                double[] by =
                [
                    .. Attempts.Where(a => next != default && a.Record.Step == next && Counts(a, epoch)).Select(a => a.To).TakeLast(1),
                    .. Departures.Where(d => isLast || EpochAt(d) == epoch),
                    .. before.TryGetValue(step, out var later) ? [later] : Array.Empty<double>(),
                ];
                if (by.Length > 0 && !Attempts.Any(a => a.Record.Step == step && Counts(a, epoch)))
                {
                    yield return new(step, _epochs[e].Revision, false, Math.Min(Began, by.Max()), by.Max());

                    // If a move carried it over, it was done before that, or anew after it.
                    if (_epochs[e].Carried.Contains(step))
                    {
                        carried[step] = Math.Min(by.Max(), _epochs[e].At);
                    }
                }
            }
        }
    }

    private bool IsOf(StepCode step) => Unit.Item.Value.StartsWith("SUB", StringComparison.Ordinal) == (step == Plant.Bond || step == Plant.Screw)
        && !Unit.Item.Value.StartsWith("PIN", StringComparison.Ordinal);

    // Made under it, or carried over to it by every move since.
    private bool Counts(ReadAttempt attempt, int epoch) =>
        attempt.Epoch <= epoch && Enumerable.Range(attempt.Epoch + 1, epoch - attempt.Epoch).All(e => _epochs[e].Carried.Contains(attempt.Record.Step));

    private ReadAttempt Read(Guid id, StepCompleted record, double at, bool isVoid)
    {
        var before = isVoid ? double.MinValue : _facts.Where(f => f is { IsVoid: false, Fact: StepCompleted c } && c.Step == record.Step && f.At < at).Select(f => f.At).DefaultIfEmpty(double.MinValue).Max();
        var from = record.StartedAt is { } started ? Minute(started)
            : Standing<StepStarted>().Where(s => s.Fact.Step == record.Step && s.At <= at).Select(s => s.At).Where(s => s > before).DefaultIfEmpty(double.MinValue).Max();
        return new(id, record, from, at, _epochs[EpochAt(at)].Revision, EpochAt(at), from > double.MinValue);
    }

    private int EpochAt(double at) => _epochs.FindLastIndex(e => e.At <= at);

    private IEnumerable<ReadStay> Inside()
    {
        var events = Attempts.SelectMany(a => a.Record.Components.Select(c => (At: a.To, IsIn: true, c.Position, c.Component)))
            .Concat(Standing<ComponentInstalled>().Select(i => (i.At, IsIn: true, i.Fact.Position, i.Fact.Component)))
            .Concat(Standing<ComponentRemoved>().Select(r => (r.At, IsIn: false, r.Fact.Position, r.Fact.Component)))
            .OrderBy(e => e.At).ThenBy(e => e.IsIn).ToArray();
        var open = new Dictionary<Code, (UnitKey Component, double From)>();
        foreach (var (at, isIn, position, component) in events)
        {
            if (isIn)
            {
                if (open.TryGetValue(position, out var inside) && inside.Component != component)
                {
                    yield return new(position, inside.Component, inside.From, at, true);
                    open[position] = (component, at);
                }

                open.TryAdd(position, (component, at));
                continue;
            }

            var places = open.Where(o => o.Value.Component == component).ToArray();
            foreach (var place in places)
            {
                yield return new(place.Key, component, place.Value.From, at, false);
                open.Remove(place.Key);
            }

            if (places.Length == 0)
            {
                Strays.Add((position, at));
            }
        }

        foreach (var (position, (component, from)) in open)
        {
            yield return new(position, component, from, double.MaxValue, false);
        }
    }

    private IEnumerable<(T Fact, double At)> Standing<T>()
        where T : Fact => _facts.Where(f => f is { IsVoid: false, Fact: T }).Select(f => ((T)f.Fact, f.At));

    private static bool IsVoid(IReadOnlyList<RecordedFact> told, Guid id) => told.Any(t => t.Fact is RecordVoided v && v.Record == id && !IsVoid(told, t.Id));

    private static int Order(StepCompleted record) => record.Step == Plant.Bond || record.Step == Plant.Marry ? 0 : 1;

    private static double Minute(DateTimeOffset at) => (at - RandomGenealogy.Start).TotalMinutes;
}
