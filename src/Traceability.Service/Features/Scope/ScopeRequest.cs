using System.Globalization;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>A question for a scope, read from path and query.</summary>
/// <param name="Factor">What is suspected.</param>
/// <param name="Limit">At most so many members, and so many cleared units.</param>
/// <param name="After">Only members after this one, as item/serial.</param>
/// <param name="WithCleared">Whether cleared units are listed.</param>
/// <param name="ClearedAfter">Only cleared units after this one, as item/serial.</param>
internal sealed record ScopeRequest(SuspectFactor Factor, int Limit, string? After, bool WithCleared, string? ClearedAfter)
{
    /// <summary>Page size where none is asked for.</summary>
    public const int LimitDefault = 100;

    /// <summary>Largest page.</summary>
    public const int LimitMax = 1_000;

    /// <summary>Reads the question, or says everything that is wrong with it.</summary>
    public static (ScopeRequest? Request, Refusal? Refusal) Read(
        string item, string lot, string? container, string? limit, string? after, string? include, string? clearedAfter)
    {
        var faults = ImmutableArray.CreateBuilder<Fault>();
        var itemNumber = Parse<ItemNumber>(item, "item", faults);
        var lotNumber = Parse<LotNumber>(lot, "lot", faults);
        var containerNumber = container is null ? default : Parse<ContainerNumber>(container, "container", faults);
        var size = ReadLimit(limit, faults);
        if (include is not (null or "cleared"))
        {
            faults.Add(new("include", $"'{include}' can't be included. It may be: cleared."));
        }

        RequireUnit(after, "after", faults);
        RequireUnit(clearedAfter, "clearedAfter", faults);
        if (faults.Count > 0)
        {
            return (null, Malformed(faults));
        }

        var key = new LotKey(itemNumber, lotNumber);
        SuspectFactor factor = container is null ? new SuspectLot(key) : new SuspectContainer(key, containerNumber);
        return (new(factor, size, after, include is not null, clearedAfter), null);
    }

    /// <summary>Reads a question for a supplier's lot, or says everything that is wrong with it.</summary>
    public static (SupplierScopeRequest? Request, Refusal? Refusal) ReadSupplier(string? supplierLot, string? supplier, string? limit, string? after)
    {
        var faults = ImmutableArray.CreateBuilder<Fault>();
        if (string.IsNullOrWhiteSpace(supplierLot))
        {
            faults.Add(new("supplierLot", "Give the supplier's lot as it is marked."));
        }

        if (supplier is not null && string.IsNullOrWhiteSpace(supplier))
        {
            faults.Add(new("supplier", "Give the supplier as it was recorded, or leave it out."));
        }

        var size = ReadLimit(limit, faults);
        RequireUnit(after, "after", faults);
        return faults.Count > 0 ? (null, Malformed(faults)) : (new(supplierLot!, supplier, size, after), null);
    }

    private static int ReadLimit(string? limit, ImmutableArray<Fault>.Builder faults)
    {
        var size = LimitDefault;
        if (limit is not null
            && (!int.TryParse(limit, NumberStyles.None, CultureInfo.InvariantCulture, out size) || size is < 1 or > LimitMax))
        {
            faults.Add(new("limit", $"'{limit}' is not a whole number from 1 to {LimitMax}."));
        }

        return size;
    }

    private static Refusal Malformed(ImmutableArray<Fault>.Builder faults) =>
        new("question-malformed", RefusalKind.Malformed, "The question can't be read. See errors for each place.", faults.ToImmutable());

    private static T Parse<T>(string text, string place, ImmutableArray<Fault>.Builder faults)
        where T : struct, ICode<T>
    {
        if (!Codes.TryParse<T>(text, out var code))
        {
            faults.Add(new(place, $"'{text}' is not a {T.Name}. {Codes.Form<T>()}"));
        }

        return code;
    }

    private static void RequireUnit(string? text, string place, ImmutableArray<Fault>.Builder faults)
    {
        if (text is not null
            && (text.Split('/') is not [var item, var serial]
                || !Codes.TryParse<ItemNumber>(item, out _) || !Codes.TryParse<SerialNumber>(serial, out _)))
        {
            faults.Add(new(place, $"'{text}' is not a unit as item/serial. Give what the page before said."));
        }
    }
}

/// <summary>A question for the scope of a supplier's lot.</summary>
/// <param name="SupplierLot">The supplier's lot, as marked.</param>
/// <param name="Supplier">The supplier; null: any.</param>
/// <param name="Limit">At most so many members.</param>
/// <param name="After">Only members after this one, as item/serial.</param>
internal sealed record SupplierScopeRequest(string SupplierLot, string? Supplier, int Limit, string? After);
