using System.Globalization;
using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>What was taken from the shelf.</summary>
/// <param name="Lot">The lot that really was used.</param>
/// <param name="Container">The container that really was used; null where the item has none.</param>
/// <param name="OneOf">The lots that a careful person would name; more than one at a changeover that nobody timed.</param>
/// <param name="Earlier">The lot before it; null for the first one. The wrong label to scan.</param>
/// <param name="Origin">The received lot that the material came from, where it is not the lot itself.</param>
internal sealed record Taken(string Lot, string? Container, IReadOnlyList<string> OneOf, string? Earlier, string? Origin = null);

/// <summary>What is done to lots of an item beside using them; lots by their place in the sequence.</summary>
internal sealed record LotCare
{
    /// <summary>Lots are inspected on receipt, and released after that.</summary>
    public bool NeedsInspection { get; init; }

    /// <summary>The lot of which the second half is put aside under a lot number of its own.</summary>
    public int? SplitsLot { get; init; }

    /// <summary>Two lots whose rests are put together.</summary>
    public (int First, int Second)? MergesLots { get; init; }

    /// <summary>The lot whose rest is counted, with less there than there should be.</summary>
    public int? CountsLot { get; init; }

    /// <summary>What is less there than there should be is booked out with the count, since somebody knows where it went.</summary>
    public bool BooksLoss { get; init; }

    /// <summary>The lot whose short shelf life is extended by evidence.</summary>
    public int? RecertifiesLot { get; init; }

    /// <summary>The first two lots came from one lot of the supplier.</summary>
    public bool SharesSupplierLot { get; init; }
}

/// <summary>How an item comes in and is used up: lot after lot, container after container.</summary>
internal sealed record SupplyPlan(
    string Item,
    string Prefix,
    string[] Stations,
    int UsesPerLot,
    int UsesPerContainer,
    decimal PerUse,
    string UnitOfMeasure,
    int ShelfDays,
    int[] UntimedChangeovers)
{
    public LotCare Care { get; init; } = new();
}

/// <summary>The shelf of one item. It sends the facts of its lots as they come up.</summary>
internal sealed class Supply(SupplyPlan plan, Ledger ledger, SplitMix random)
{
    private readonly Dictionary<int, string> _received = [];
    private readonly Dictionary<(int Lot, int Container), DateTimeOffset> _opened = [];
    private readonly HashSet<string> _made = new(StringComparer.Ordinal);
    private int _uses;
    private int _current = -1;
    private int _currentContainer = -1;

    /// <summary>The lot that is never reported as emptied: it is quarantined instead.</summary>
    public int? QuarantinedLot { get; init; }

    /// <summary>Called once, when the lot after the one to be quarantined is begun.</summary>
    public Action<string, DateTimeOffset>? OnQuarantineDue { get; init; }

    /// <summary>Called for each use: the lot's place in the sequence, how many uses are left in it, the container, when.</summary>
    public Action<int, int, string?, DateTimeOffset>? OnTake { get; init; }

    public SupplyPlan Plan => plan;

    private const int RestUses = 3;

    private string RestName => plan.Prefix + "REST1";

    private decimal Received => plan.PerUse * plan.UsesPerLot * 1.1m;

    /// <summary>The number of the lot that is in use.</summary>
    public int CurrentLot => _current;

    /// <summary>The name of a lot by its place in the sequence.</summary>
    public string LotName(int index) => string.Create(CultureInfo.InvariantCulture, $"{plan.Prefix}{2401 + (index * 7)}");

    /// <summary>Takes the next use.</summary>
    public Taken Take(DateTimeOffset at)
    {
        var lot = _uses / plan.UsesPerLot;
        var within = _uses % plan.UsesPerLot;
        _uses++;
        Receive(lot, at);
        if (lot != _current)
        {
            Change(lot, at);
        }

        string? container = null;
        if (plan.UsesPerContainer > 0)
        {
            container = Open(lot, within / plan.UsesPerContainer, at);
        }

        OnTake?.Invoke(lot, plan.UsesPerLot - within, container, at);
        if (TakeMade(lot, within, at) is { } made)
        {
            return made;
        }

        var oneOf = new List<string> { LotName(lot) };
        if (within == 0 && plan.UntimedChangeovers.Contains(lot))
        {
            oneOf.Insert(0, LotName(lot - 1));
        }
        else if (within == plan.UsesPerLot - 1 && plan.UntimedChangeovers.Contains(lot + 1))
        {
            Receive(lot + 1, at);
            oneOf.Add(LotName(lot + 1));
        }

        return new(LotName(lot), container, oneOf, lot > 0 ? LotName(lot - 1) : null);
    }

    /// <summary>Takes from a container that was left lying about; null if none such was opened by then.</summary>
    public Taken? TakeForgotten(int lot, int container, DateTimeOffset openedBefore) =>
        _opened.TryGetValue((lot, container), out var opened) && opened < openedBefore
            ? new(LotName(lot), ContainerName(lot, container), [LotName(lot)], null)
            : null;

    private static string Number(int container) => (container + 1).ToString(CultureInfo.InvariantCulture);

    private string ContainerName(int lot, int container) => $"{LotName(lot)}-{Number(container)}";

    private void Receive(int lot, DateTimeOffset at)
    {
        if (!_received.TryAdd(lot, LotName(lot)))
        {
            return;
        }

        var received = at.AddDays(-4).AddMinutes(random.Int(-90, 90));
        var supplierLot = string.Create(CultureInfo.InvariantCulture, $"S{random.Int(10_000, 99_999)}");
        var isShort = plan.Care.RecertifiesLot == lot;
        Send("lot-received", received, Senders.Quality, LotName(lot), shown => new()
        {
            ["supplierLot"] = plan.Care.SharesSupplierLot && lot < 2 ? "S77001" : supplierLot,
            ["supplier"] = "Hollin Ferry Trading",
            ["quantity"] = Body.Quantity(Received, plan.UnitOfMeasure),
            ["expiresAt"] = shown(received.AddDays(isShort ? 7 : plan.ShelfDays)),
            ["isReleased"] = !plan.Care.NeedsInspection,
            ["stations"] = Body.Texts(plan.Stations),
        });
        if (plan.Care.NeedsInspection)
        {
            Inspect(lot, received);
        }

        if (isShort)
        {
            Send("lot-recertified", received.AddDays(6.5), Senders.Quality, LotName(lot), shown => new()
            {
                ["expiresAt"] = shown(received.AddDays(60)), ["evidence"] = "Test report GR-7: penetration as new", ["authorisedBy"] = "P-9",
            });
        }
    }

    private void Inspect(int lot, DateTimeOffset received)
    {
        var inspected = Send("lot-inspected", received.AddHours(3), Senders.Quality, LotName(lot), _ => new()
        {
            ["accepted"] = true,
            ["sampleCount"] = 5,
            ["results"] = Body.List(new JsonObject { ["characteristic"] = "BORE", ["passed"] = true, ["value"] = Body.Quantity(8.002m, "mm") }),
            ["certificate"] = $"CC-{LotName(lot)}",
        });
        Send("lot-released", received.AddHours(4), Senders.Quality, LotName(lot), _ => [], inspected);
    }

    // From a lot that was made of others in the store.
    private Taken? TakeMade(int lot, int within, DateTimeOffset at)
    {
        if (plan.Care.SplitsLot == lot && within >= plan.UsesPerLot / 2)
        {
            var split = LotName(lot) + "S";
            if (_made.Add(split))
            {
                Send("lot-split", at.AddMinutes(-20), "STORE-1", split, _ => new()
                {
                    ["source"] = Source(lot, plan.PerUse * (plan.UsesPerLot - within)), ["stations"] = Body.Texts(plan.Stations),
                });
            }

            return new(split, null, [split], LotName(lot), LotName(lot));
        }

        return plan.Care.MergesLots is { } rests && lot == rests.Second + 1 && within < RestUses
            ? new(RestName, null, [RestName], LotName(lot), LotName(within % 2 == 0 ? rests.First : rests.Second))
            : null;
    }

    private void Merge((int First, int Second) rests, DateTimeOffset at)
    {
        Send("lot-merged", at.AddMinutes(-15), "STORE-1", RestName, _ => new()
        {
            ["sources"] = Body.List(Source(rests.First, 2 * plan.PerUse), Source(rests.Second, 2 * plan.PerUse)), ["stations"] = Body.Texts(plan.Stations),
        });
        Send("lot-emptied", at.AddMinutes(5), "STORE-1", LotName(rests.First), _ => []);
    }

    private JsonObject Source(int lot, decimal quantity) => new()
    {
        ["lot"] = Body.Lot(plan.Item, LotName(lot)), ["quantity"] = Body.Quantity(quantity, plan.UnitOfMeasure),
    };

    private PlantFact Send(string type, DateTimeOffset at, string sender, string lot, Func<Func<DateTimeOffset, string>, JsonObject> members, PlantFact? after = null) =>
        ledger.Send(random.Id(), type, at, sender, "STORE-1", "P-30", shown =>
        {
            var body = members(shown);
            body.Insert(0, "lot", Body.Lot(plan.Item, lot));
            return body;
        }, after: after?.Id);

    private void Change(int lot, DateTimeOffset at)
    {
        var before = _current;
        if (before >= 0)
        {
            EmptyContainer(at);
            if (before == QuarantinedLot)
            {
                OnQuarantineDue?.Invoke(LotName(before), at);
            }
            else if (before > 0 || plan.UsesPerContainer == 0)
            {
                End(before, at);
            }
        }

        _current = lot;
        _currentContainer = -1;
    }

    private void End(int lot, DateTimeOffset at)
    {
        var care = plan.Care;
        if (care.SplitsLot == lot)
        {
            Send("lot-emptied", at.AddMinutes(7), "STORE-1", LotName(lot) + "S", _ => []);
        }

        if (care.MergesLots is { } rests && rests.Second == lot)
        {
            Merge(rests, at);
        }

        if (care.CountsLot == lot)
        {
            // Some are gone that nobody wrote down.
            var there = Received - (plan.PerUse * plan.UsesPerLot);
            var gone = Math.Min(there, 3 * plan.PerUse);
            Send("stock-counted", at.AddMinutes(6), "STORE-1", LotName(lot), _ =>
            {
                var body = new JsonObject { ["quantity"] = Body.Quantity(there - gone, plan.UnitOfMeasure) };
                if (care.BooksLoss)
                {
                    body["loss"] = Body.Quantity(gone, plan.UnitOfMeasure);
                    body["reason"] = "Crushed in the drawer, thrown away";
                }

                return body;
            });
        }
        else if (care.MergesLots?.First != lot)
        {
            Send("lot-emptied", at.AddMinutes(6), "STORE-1", LotName(lot), _ => []);
        }
    }

    private string Open(int lot, int container, DateTimeOffset at)
    {
        if (container != _currentContainer)
        {
            EmptyContainer(at);
            _currentContainer = container;
            var opened = at.AddMinutes(-2);
            _opened[(lot, container)] = opened;
            ledger.Send(random.Id(), "container-opened", opened, "STORE-1", "STORE-1", "P-30", _ => new()
            {
                ["lot"] = Body.Lot(plan.Item, LotName(lot)),
                ["container"] = ContainerName(lot, container),
                ["stations"] = Body.Texts(plan.Stations),
            });
        }

        return ContainerName(lot, container);
    }

    // The first container of the first lot and the last ones of the quarantined lot are left lying about.
    private void EmptyContainer(DateTimeOffset at)
    {
        if (_currentContainer < 0 || plan.UsesPerContainer == 0 || _current == QuarantinedLot || (_current == 0 && _currentContainer == 0))
        {
            return;
        }

        ledger.Send(random.Id(), "container-emptied", at.AddMinutes(4), "STORE-1", "STORE-1", "P-30", _ => new()
        {
            ["lot"] = Body.Lot(plan.Item, LotName(_current)),
            ["container"] = ContainerName(_current, _currentContainer),
        });
    }
}
