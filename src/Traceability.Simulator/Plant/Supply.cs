using System.Globalization;

namespace Traceability.Simulator.Plant;

/// <summary>What was taken from the shelf.</summary>
/// <param name="Lot">The lot that really was used.</param>
/// <param name="Container">The container that really was used; null where the item has none.</param>
/// <param name="OneOf">The lots that a careful person would name; more than one at a changeover that nobody timed.</param>
/// <param name="Earlier">The lot before it; null for the first one. The wrong label to scan.</param>
internal sealed record Taken(string Lot, string? Container, IReadOnlyList<string> OneOf, string? Earlier);

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
    int[] UntimedChangeovers);

/// <summary>The shelf of one item. It sends the facts of its lots as they come up.</summary>
internal sealed class Supply(SupplyPlan plan, Ledger ledger, SplitMix random)
{
    private readonly Dictionary<int, string> _received = [];
    private readonly Dictionary<(int Lot, int Container), DateTimeOffset> _opened = [];
    private int _uses;
    private int _current = -1;
    private int _currentContainer = -1;

    /// <summary>The lot that is never reported as emptied: it is quarantined instead.</summary>
    public int? QuarantinedLot { get; init; }

    /// <summary>Called once, when the lot after the one to be quarantined is begun.</summary>
    public Action<string, DateTimeOffset>? OnQuarantineDue { get; init; }

    /// <summary>Called for each use: the lot's place in the sequence, how many uses are left in it, when.</summary>
    public Action<int, int, DateTimeOffset>? OnTake { get; init; }

    public SupplyPlan Plan => plan;

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

        OnTake?.Invoke(lot, plan.UsesPerLot - within, at);
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
        ledger.Send(random.Id(), "lot-received", received, Senders.Quality, "STORE-1", "P-30", shown => new()
        {
            ["lot"] = Body.Lot(plan.Item, LotName(lot)),
            ["supplierLot"] = string.Create(CultureInfo.InvariantCulture, $"S{random.Int(10_000, 99_999)}"),
            ["quantity"] = Body.Quantity(plan.PerUse * plan.UsesPerLot * 1.1m, plan.UnitOfMeasure),
            ["expiresAt"] = shown(received.AddDays(plan.ShelfDays)),
            ["isReleased"] = true,
            ["stations"] = Body.Texts(plan.Stations),
        });
    }

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
                ledger.Send(random.Id(), "lot-emptied", at.AddMinutes(6), "STORE-1", "STORE-1", "P-30", _ => new()
                {
                    ["lot"] = Body.Lot(plan.Item, LotName(before)),
                });
            }
        }

        _current = lot;
        _currentContainer = -1;
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
