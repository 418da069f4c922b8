namespace Traceability.Service.Features.Shipments;

/// <summary>Units leave to a consignee: several by one decision, and the list of what left.</summary>
internal static class ShipmentsFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddShipments(this IServiceCollection services) => services.AddSingleton<ShipmentDesk>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapShipments(this IEndpointRouteBuilder api)
    {
        PostShipmentEndpoint.Map(api);
        ListShipmentsEndpoint.Map(api);
    }
}
